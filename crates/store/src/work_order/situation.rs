use std::collections::{BTreeMap, BTreeSet};

use domain::text::Key;
use domain::vocabulary::Action;
use domain::work::{LineStanding, PartLineState, Proof, Situation, VisitTimes, changes_the_machine};

use super::WorkOrder;
use crate::error::stored;
use crate::{StoreError, UnitOfWork, appliance_state, visit};

/// Everything that an order's moves depend on, but for what its readings prove.
pub async fn situation(unit: &mut UnitOfWork, order: &WorkOrder) -> Result<Situation, StoreError> {
    let appliance = match order.appliance {
        Some(appliance) => appliance_state::get(unit, appliance).await?.map(|place| place.state),
        None => None,
    };
    let visits = visit::of_order_within(unit, order.id).await?;
    let actions = sqlx::query!(
        "SELECT id, position, action, part_line_id, taken_at FROM action_taken
         WHERE work_order_id = $1 ORDER BY taken_at, created_at, id",
        order.id.uuid()
    )
    .fetch_all(unit.connection())
    .await?;
    let lines = sqlx::query!(
        "SELECT part_line.id, state, part.title, part.number FROM part_line JOIN part ON part.id = part_line.part_id
         WHERE work_order_id = $1 ORDER BY part_line.id",
        order.id.uuid()
    )
    .fetch_all(unit.connection())
    .await?;
    let waivers =
        sqlx::query!("SELECT id, what, given_at FROM waiver WHERE work_order_id = $1", order.id.uuid())
            .fetch_all(unit.connection())
            .await?;
    let open_defeats = sqlx::query!(
        "SELECT id, expires_at FROM interlock_defeat WHERE work_order_id = $1 AND removed_at IS NULL ORDER BY expires_at",
        order.id.uuid()
    )
    .fetch_all(unit.connection())
    .await?;

    let named: BTreeSet<_> = actions.iter().filter_map(|action| action.part_line_id).collect();
    let mut last_change = None;
    let mut last: BTreeMap<String, bool> = BTreeMap::new();
    for action in &actions {
        let action_key = stored(action.action.clone(), "action_taken", "action", action.id)?;
        if changes_the_machine(&action_key) {
            last_change = Some(action.taken_at);
            let is_stopgap = action.action.parse::<Action>().is_ok_and(Action::is_temporary);
            last.insert(action.position.clone(), is_stopgap);
        }
    }
    let stopgaps = last.into_iter().filter(|(_, is_stopgap)| *is_stopgap);
    let mut part_lines = Vec::with_capacity(lines.len());
    for line in lines {
        let state = stored(line.state, "part_line", "state", line.id)?;
        part_lines.push(LineStanding {
            part: format!("{} ({})", line.title, line.number),
            state,
            lacks_action: state == PartLineState::Fitted && !named.contains(&line.id),
        });
    }
    // A waiver stands for the machine as it has been since the last action.
    let waived =
        waivers.into_iter().filter(|waiver| last_change.is_none_or(|change| waiver.given_at >= change));
    let waived = waived.map(|waiver| stored(waiver.what, "waiver", "what", waiver.id));
    Ok(Situation {
        kind: order.kind,
        state: order.state,
        appliance,
        symptoms: order.symptoms.len(),
        visits: visits.iter().map(|visit| visit.times).collect::<Vec<VisitTimes>>(),
        has_restoration_time: order.restored_at.is_some(),
        machine_changed: last_change.is_some(),
        stopgaps: stopgaps
            .map(|(position, _)| stored::<Key, _>(position, "action_taken", "position", order.id.uuid()))
            .collect::<Result<_, _>>()?,
        part_lines,
        open_interlock_defeats: open_defeats
            .into_iter()
            .map(|defeat| stored(defeat.expires_at, "interlock_defeat", "expires_at", defeat.id))
            .collect::<Result<_, _>>()?,
        proof: Proof::default(),
        waived: waived.collect::<Result<_, _>>()?,
    })
}
