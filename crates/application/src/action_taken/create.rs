use domain::vocabulary::Action;
use store::action_taken::{self, ActionTaken, NewActionTaken};
use store::{UnitOfWork, part_line, test_run};

use crate::use_case::{body_sha256, is_new, written};
use crate::work_order::{hold, not_in_future};
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
        let is_temporary = new.action.as_str().parse::<Action>().is_ok_and(Action::is_temporary);
        match new.expires_at {
            None if is_temporary => {
                faults.push(Fault::at("/expires_at", "a temporary measure says when it must be gone"));
            }
            Some(expires_at) if expires_at <= new.taken_at => {
                faults.push(Fault::at("/expires_at", "must lie after taken_at"));
            }
            _ => {}
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
            held.require_open()?;
            test_run::bump_evidence(unit, &[new.work_order]).await?;
            unit.record(
                held.change("action.taken", new.id).because(format!("{}: {}", new.position, new.action)),
            );
        }
        let item = written(action_taken::get(unit, new.id).await?, "action taken")?;
        Ok(Created { item, is_new })
    }
}
