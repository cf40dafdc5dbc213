//! What an appliance can be used for now, as the work on it sets it.

use domain::id::{ApplianceId, SiteId};
use domain::work::ApplianceState;

use crate::error::stored;
use crate::{StoreError, UnitOfWork};

/// Where an appliance stands, and in which state.
#[derive(Debug, Clone, Copy)]
pub struct AppliancePlace {
    pub site: SiteId,
    pub state: ApplianceState,
}

pub async fn get(unit: &mut UnitOfWork, id: ApplianceId) -> Result<Option<AppliancePlace>, StoreError> {
    let row = sqlx::query!("SELECT site_id, state FROM appliance WHERE id = $1", id.uuid())
        .fetch_optional(unit.connection())
        .await?;
    row.map(|row| {
        Ok(AppliancePlace {
            site: stored(row.site_id, "appliance", "site_id", id.uuid())?,
            state: stored(row.state, "appliance", "state", id.uuid())?,
        })
    })
    .transpose()
}

/// Sets the state; returns whether it was another.
pub async fn set(unit: &mut UnitOfWork, id: ApplianceId, state: ApplianceState) -> Result<bool, StoreError> {
    let updated = sqlx::query!(
        "UPDATE appliance SET state = $2, version = version + 1 WHERE id = $1 AND state <> $2",
        id.uuid(),
        state.word()
    )
    .execute(unit.connection())
    .await?;
    Ok(updated.rows_affected() == 1)
}
