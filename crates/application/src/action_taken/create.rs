use domain::vocabulary::{Action, Position};
use domain::work::{Missing, OrderAction, OrderState, changes_the_machine, check_action};
use store::action_taken::{self, ActionTaken, NewActionTaken};
use store::{UnitOfWork, fitted_part, interlock_defeat, part_line, test_run};

use crate::use_case::{body_sha256, is_new, written};
use crate::work_order::{Held, hold_at, not_in_future, require};
use crate::{Caller, Created, Fault, Refusal, UseCase};

/// Keeps what somebody did to a position. If it changes the machine, a new epoch of evidence begins.
pub struct CreateActionTaken(pub NewActionTaken);

impl UseCase for CreateActionTaken {
    const NAME: &'static str = "create_action_taken";
    type Outcome = Created<ActionTaken>;

    async fn carry_out(self, unit: &mut UnitOfWork, caller: &Caller) -> Result<Self::Outcome, Refusal> {
        let new = self.0;
        let held = hold_at(unit, caller, new.work_order, ("/taken_at", new.taken_at)).await?;
        let mut faults = Vec::new();
        not_in_future("/taken_at", Some(new.taken_at), unit.now(), &mut faults);
        let checked = check_action(&new.action, new.taken_at, new.expires_at);
        faults.extend(checked.err().into_iter().flatten().map(Fault::from));
        let received_at = held.order.received_at;
        if new.taken_at < received_at {
            let detail = format!("must not lie before {received_at}, when the order was received");
            faults.push(Fault::at("/taken_at", detail));
        }
        if let Some(line) = new.part_line {
            let line = part_line::get(unit, line).await?;
            if line.is_none_or(|line| line.work_order != new.work_order) {
                faults.push(Fault::at("/part_line_id", "the order has no such part line"));
            }
        }
        check_defeat(unit, &new, &mut faults).await?;
        Refusal::unless_faultless(faults)?;
        let taken_by = caller.principal.person;
        let creation = action_taken::insert(unit, &new, taken_by, &body_sha256(&new)?).await?;
        let is_new = is_new(creation, "action taken")?;
        if is_new {
            require(&missing(&held, &new))?;
            if new.action.as_str() == Action::Removed.key()
                && let Some(appliance) = held.order.appliance
            {
                fitted_part::empty(unit, appliance, &new.position, new.taken_at).await?;
            }
            test_run::bump_evidence(unit, &[new.work_order]).await?;
            unit.record(
                held.change("action.taken", new.id).because(format!("{}: {}", new.position, new.action)),
            );
        }
        let item = written(action_taken::get(unit, new.id).await?, "action taken")?;
        Ok(Created { item, is_new })
    }
}

/// Going round an interlock is a defeat (ISO 14119), whatever it is called: it needs one that is open, and ends no later.
async fn check_defeat(
    unit: &mut UnitOfWork,
    new: &NewActionTaken,
    faults: &mut Vec<Fault>,
) -> Result<(), Refusal> {
    let bypasses = new.action.as_str() == Action::BypassedTemporary.key()
        && new.position.as_str() == Position::DoorSwitch.key();
    if !bypasses {
        return Ok(());
    }
    let defeats = interlock_defeat::of_order_within(unit, new.work_order).await?;
    match defeats.iter().find(|defeat| defeat.removed_at.is_none()) {
        None => faults.push(Fault::at(
            "/action",
            "an interlock that is bypassed is a defeat: record it first, under this order and with a second \
             person",
        )),
        Some(defeat) if new.expires_at.is_some_and(|at| at > defeat.expires_at) => faults.push(Fault::at(
            "/expires_at",
            format!("must not lie after {}, when the defeat of the interlock ends", defeat.expires_at),
        )),
        Some(_) => {}
    }
    Ok(())
}

/// The machine is changed only under repair: a change after that would void what is proven.
fn missing(held: &Held, new: &NewActionTaken) -> Vec<Missing> {
    let state = held.order.state;
    if state.has_ended() {
        return vec![Missing::Ended];
    }
    let mut missing = Vec::new();
    if changes_the_machine(&new.action) && state != OrderState::UnderRepair {
        let is_past = matches!(state, OrderState::RepairedUnproven | OrderState::Proven);
        let action = if is_past { OrderAction::ResumeRepair } else { OrderAction::StartRepair };
        missing.push(Missing::UnderRepair { state, action });
    }
    missing
}
