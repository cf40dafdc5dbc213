use domain::vocabulary::Action;
use domain::work::{Missing, OrderAction, OrderState, changes_the_machine, check_action};
use store::action_taken::{self, ActionTaken, NewActionTaken};
use store::{UnitOfWork, fitted_part, part_line, test_run};

use crate::use_case::{body_sha256, is_new, written};
use crate::work_order::{Held, hold, not_in_future, require};
use crate::{Caller, Created, Fault, Refusal, UseCase};

/// Keeps what somebody did to a position. If it changes the machine, a new epoch of evidence begins.
pub struct CreateActionTaken(pub NewActionTaken);

impl UseCase for CreateActionTaken {
    const NAME: &'static str = "create_action_taken";
    type Outcome = Created<ActionTaken>;

    async fn carry_out(self, unit: &mut UnitOfWork, caller: &Caller) -> Result<Self::Outcome, Refusal> {
        let new = self.0;
        let held = hold(unit, caller, new.work_order).await?;
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
