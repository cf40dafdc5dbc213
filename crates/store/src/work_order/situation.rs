use std::collections::{BTreeMap, BTreeSet};

use domain::text::Key;
use domain::vocabulary::Action;
use domain::work::{Proof, Situation, VisitTimes};

use super::WorkOrder;
use crate::error::{stored, stored_list};
use crate::{StoreError, UnitOfWork, appliance_state, visit};

/// Everything that an order's moves depend on, but for what its readings prove.
pub async fn situation(unit: &mut UnitOfWork, order: &WorkOrder) -> Result<Situation, StoreError> {
    let appliance = match order.appliance {
        Some(appliance) => appliance_state::get(unit, appliance).await?.map(|place| place.state),
        None => None,
    };
    let visits = visit::of_order_within(unit, order.id).await?;
    let actions = sqlx::query!(
        "SELECT id, position, action, part_line_id FROM action_taken
         WHERE work_order_id = $1 ORDER BY taken_at, created_at, id",
        order.id.uuid()
    )
    .fetch_all(unit.connection())
    .await?;
    let lines = sqlx::query!("SELECT id, state FROM part_line WHERE work_order_id = $1", order.id.uuid())
        .fetch_all(unit.connection())
        .await?;
    let row = sqlx::query!(
        r#"SELECT (SELECT count(*) FROM interlock_defeat WHERE work_order_id = $1 AND removed_at IS NULL) AS "open!",
               ARRAY(SELECT DISTINCT what FROM waiver WHERE work_order_id = $1) AS "waived!""#,
        order.id.uuid()
    )
    .fetch_one(unit.connection())
    .await?;

    let named: BTreeSet<_> = actions.iter().filter_map(|action| action.part_line_id).collect();
    let mut machine_changed = false;
    let mut last: BTreeMap<String, bool> = BTreeMap::new();
    for action in &actions {
        // A company's own action is taken to change the machine, and to last.
        let known = action.action.parse::<Action>().ok();
        machine_changed |= known.is_none_or(Action::changes_the_machine);
        if known.is_none_or(Action::changes_the_machine) {
            last.insert(action.position.clone(), known.is_some_and(Action::is_temporary));
        }
    }
    let stopgaps = last.into_iter().filter(|(_, is_stopgap)| *is_stopgap);
    let mut part_lines = Vec::with_capacity(lines.len());
    let mut fitted_without_action = 0;
    for line in lines {
        if line.state == "fitted" && !named.contains(&line.id) {
            fitted_without_action += 1;
        }
        part_lines.push(stored(line.state, "part_line", "state", line.id)?);
    }
    let waived = stored_list(row.waived, "waiver", "what", order.id.uuid())?;
    Ok(Situation {
        kind: order.kind,
        state: order.state,
        appliance,
        symptoms: order.symptoms.len(),
        visits: visits.iter().map(|visit| visit.times).collect::<Vec<VisitTimes>>(),
        has_restoration_time: order.restored_at.is_some(),
        machine_changed,
        fitted_without_action,
        stopgaps: stopgaps
            .map(|(position, _)| stored::<Key, _>(position, "action_taken", "position", order.id.uuid()))
            .collect::<Result<_, _>>()?,
        part_lines,
        open_interlock_defeats: usize::try_from(row.open).unwrap_or_default(),
        proof: Proof::default(),
        waived: waived.into_iter().collect(),
    })
}
