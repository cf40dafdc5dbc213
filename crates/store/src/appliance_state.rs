//! What an appliance can be used for now, as the work on it sets it.

use chrono::{DateTime, Utc};
use domain::id::{ApplianceId, SiteId};
use domain::text::Key;
use domain::time::Timestamp;
use domain::work::{ApplianceState, changes_the_machine};

use crate::error::stored;
use crate::{StoreError, UnitOfWork, stop};

/// Where an appliance stands, and in which state.
#[derive(Debug, Clone, Copy)]
pub struct AppliancePlace {
    pub site: SiteId,
    pub state: ApplianceState,
    pub version: i64,
}

pub async fn get(unit: &mut UnitOfWork, id: ApplianceId) -> Result<Option<AppliancePlace>, StoreError> {
    let row = sqlx::query!("SELECT site_id, state, version FROM appliance WHERE id = $1", id.uuid())
        .fetch_optional(unit.connection())
        .await?;
    row.map(|row| place(row.site_id, row.state, row.version, id)).transpose()
}

/// [`get`], locked until the unit of work ends: whoever stops, sets or releases it waits for the other.
pub async fn lock(unit: &mut UnitOfWork, id: ApplianceId) -> Result<Option<AppliancePlace>, StoreError> {
    let row = sqlx::query!(
        "SELECT site_id, state, version FROM appliance WHERE id = $1 FOR NO KEY UPDATE",
        id.uuid()
    )
    .fetch_optional(unit.connection())
    .await?;
    row.map(|row| place(row.site_id, row.state, row.version, id)).transpose()
}

fn place(
    site: uuid::Uuid,
    state: String,
    version: i64,
    id: ApplianceId,
) -> Result<AppliancePlace, StoreError> {
    Ok(AppliancePlace {
        site: stored(site, "appliance", "site_id", id.uuid())?,
        state: stored(state, "appliance", "state", id.uuid())?,
        version,
    })
}

/// What became of a state that was said.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Set {
    Changed,
    AsItWas,
    /// It is under stop-use and stays unsafe, whatever was said.
    KeptUnsafe,
}

/// Sets the state, but for a machine that is unsafe: it stays so until it is released, also when it comes back from where it
/// was taken.
pub async fn set(unit: &mut UnitOfWork, id: ApplianceId, state: ApplianceState) -> Result<Set, StoreError> {
    let Some(stands) = lock(unit, id).await? else { return Ok(Set::AsItWas) };
    let free = matches!(state, ApplianceState::UnsafeDoNotUse | ApplianceState::Removed);
    let is_stopped =
        stands.state == ApplianceState::UnsafeDoNotUse || stop::any_open(unit.connection(), id).await?;
    let kept = is_stopped && !free;
    let becomes = if kept { ApplianceState::UnsafeDoNotUse } else { state };
    let changed = write(unit, id, becomes).await?;
    Ok(match (kept, changed) {
        (true, _) => Set::KeptUnsafe,
        (false, true) => Set::Changed,
        (false, false) => Set::AsItWas,
    })
}

/// Sets the state of a machine that somebody released.
pub async fn set_released(
    unit: &mut UnitOfWork,
    id: ApplianceId,
    state: ApplianceState,
) -> Result<bool, StoreError> {
    write(unit, id, state).await
}

async fn write(unit: &mut UnitOfWork, id: ApplianceId, state: ApplianceState) -> Result<bool, StoreError> {
    let updated = sqlx::query!(
        "UPDATE appliance SET state = $2, version = version + 1 WHERE id = $1 AND state <> $2",
        id.uuid(),
        state.word()
    )
    .execute(unit.connection())
    .await?;
    Ok(updated.rows_affected() == 1)
}

/// Counts a stop that finds the machine unsafe already: whoever is about to release it has to see it first.
pub async fn count_stop(unit: &mut UnitOfWork, id: ApplianceId) -> Result<(), StoreError> {
    sqlx::query!("UPDATE appliance SET version = version + 1 WHERE id = $1", id.uuid())
        .execute(unit.connection())
        .await?;
    Ok(())
}

/// When somebody last changed the machine, under whatever order.
pub async fn last_changed(unit: &mut UnitOfWork, id: ApplianceId) -> Result<Option<Timestamp>, StoreError> {
    let rows = sqlx::query!(
        "SELECT action, taken_at FROM action_taken JOIN work_order ON work_order.id = work_order_id
         WHERE work_order.appliance_id = $1 ORDER BY taken_at DESC",
        id.uuid()
    )
    .fetch_all(unit.connection())
    .await?;
    for row in rows {
        let action: Key = stored(row.action, "action_taken", "action", id.uuid())?;
        if changes_the_machine(&action) {
            let at: DateTime<Utc> = row.taken_at;
            return Ok(Some(stored(at, "action_taken", "taken_at", id.uuid())?));
        }
    }
    Ok(None)
}

/// How many interlocks are defeated on it now.
pub async fn open_defeats(unit: &mut UnitOfWork, id: ApplianceId) -> Result<Vec<i64>, StoreError> {
    let orders = sqlx::query_scalar!(
        "SELECT DISTINCT work_order.number FROM interlock_defeat JOIN work_order ON work_order.id = work_order_id
         WHERE work_order.appliance_id = $1 AND removed_at IS NULL ORDER BY 1",
        id.uuid()
    )
    .fetch_all(unit.connection())
    .await?;
    Ok(orders)
}
