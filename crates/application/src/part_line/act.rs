use chrono::NaiveDate;
use domain::id::{FittedPartId, PartLineId};
use domain::money::Amount;
use domain::text::Name;
use domain::time::Timestamp;
use domain::work::{PartLineAction, PartLineState, Payer, Spending, approval_ground, part_line_after};
use store::UnitOfWork;
use store::fitted_part::{self, NewFittedPart};
use store::part_line::{self, PartLine};
use store::work_order::WorkOrder;

use super::fits::require_fitting;
use crate::use_case::written;
use crate::work_order::{hold, not_in_future};
use crate::{Caller, Fault, Refusal, UseCase};

/// Moves a part line on its way.
pub struct MovePartLine {
    pub id: PartLineId,
    pub expected_version: i64,
    pub action: PartLineAction,
    pub saying: LineSaying,
}

/// What a move says besides its name.
#[derive(Debug, Clone, Default)]
pub struct LineSaying {
    /// With `promise`: the supplier's day.
    pub promised_on: Option<NaiveDate>,
    /// With `fit`: when. Now, if it is left out.
    pub fitted_at: Option<Timestamp>,
    /// With `fit`: the part's serial.
    pub serial: Option<Name>,
}

impl UseCase for MovePartLine {
    const NAME: &'static str = "act_on_part_line";
    type Outcome = PartLine;

    async fn carry_out(self, unit: &mut UnitOfWork, caller: &Caller) -> Result<PartLine, Refusal> {
        let missing = || Refusal::NotFound { what: "part line" };
        let order = part_line::order_of(unit, self.id).await?.ok_or_else(missing)?;
        let held = hold(unit, caller, order).await?;
        let mut line = part_line::get(unit, self.id).await?.ok_or_else(missing)?;
        if line.version != self.expected_version {
            return Err(Refusal::Stale { what: "part line", current: line.version });
        }
        self.check_saying(unit.now(), &held.order)?;
        if self.action != PartLineAction::ReturnDefective {
            held.require_open()?;
        }
        if self.action == PartLineAction::Quote {
            return Err(refused("a line is quoted by the quote that lists it: make one of the order"));
        }
        let Some(state) = part_line_after(line.state, self.action) else {
            return Err(refused(&format!(
                "a line that is {} cannot be moved by {}",
                line.state, self.action
            )));
        };
        if self.action == PartLineAction::Approve {
            let lines = part_line::of_order_within(unit, order).await?;
            approve(&held.order, &line, &lines)?;
        }
        if line.state == PartLineState::Fitted
            && let (Some(appliance), Some(position)) = (held.order.appliance, &line.position)
        {
            // Only a defective part leaves its place again.
            fitted_part::take_out(unit, appliance, position, line.part, unit.now()).await?;
        }
        line.state = state;
        if self.action == PartLineAction::Promise {
            line.promised_on = self.saying.promised_on;
            if let Some(day) = self.saying.promised_on {
                part_line::note_promise(unit, self.id, day, caller.principal.person).await?;
            }
        }
        if self.action == PartLineAction::Fit {
            // It may not have been known which machine it is when the line was noted.
            let (position, word) = (line.position.as_ref(), line.fit_override.as_ref());
            require_fitting(unit, &held.order, line.part, position, word).await?;
            let at = self.saying.fitted_at.unwrap_or(unit.now());
            line.fitted_at = Some(at);
            if let (Some(appliance), Some(position)) = (held.order.appliance, line.position.clone()) {
                let id = written(FittedPartId::try_from(unit.next_id()).ok(), "fitted part's id")?;
                let (part, serial) = (line.part, self.saying.serial.clone());
                let new = NewFittedPart { id, appliance, position, part, serial, fitted_at: at };
                fitted_part::fit(unit, &new).await?;
            }
        }
        if !part_line::update(unit, &line, self.expected_version).await? {
            return Err(Refusal::Stale { what: "part line", current: line.version });
        }
        unit.record(
            held.change("part_line.moved", self.id).because(format!("{} by {}", line.state, self.action)),
        );
        written(part_line::get(unit, self.id).await?, "part line")
    }
}

impl MovePartLine {
    fn check_saying(&self, now: Timestamp, order: &WorkOrder) -> Result<(), Refusal> {
        let saying = &self.saying;
        let mut faults = Vec::new();
        let fits = self.action == PartLineAction::Fit;
        match (self.action == PartLineAction::Promise, saying.promised_on) {
            (true, None) => faults.push(Fault::at("/promised_on", "say the day that the supplier named")),
            (false, Some(_)) => faults.push(Fault::at("/promised_on", "belongs to promise; leave it out")),
            _ => {}
        }
        if !fits && saying.fitted_at.is_some() {
            faults.push(Fault::at("/fitted_at", "belongs to fit; leave it out"));
        }
        if !fits && saying.serial.is_some() {
            faults.push(Fault::at("/serial", "belongs to fit; leave it out"));
        }
        not_in_future("/fitted_at", saying.fitted_at, now, &mut faults);
        if saying.fitted_at.is_some_and(|at| at < order.received_at) {
            let detail = format!("must not lie before {}, when the order was received", order.received_at);
            faults.push(Fault::at("/fitted_at", detail));
        }
        Refusal::unless_faultless(faults)
    }
}

fn refused(detail: &str) -> Refusal {
    Refusal::NotNow { detail: detail.to_owned(), missing: Vec::new() }
}

/// Refuses a line that only the customer's word on a quote can approve.
fn approve(order: &WorkOrder, line: &PartLine, lines: &[PartLine]) -> Result<(), Refusal> {
    let limit =
        order.spending_limit.filter(|limit| limit.currency == line.currency).map(|limit| limit.amount);
    let too_much = |error: domain::money::InvalidAmount| Refusal::Conflict { detail: error.to_string() };
    let mut spent = Amount::ZERO;
    for other in lines {
        let counts = other.id != line.id && other.payer == Payer::Customer && other.state.is_approved();
        if counts && other.currency == line.currency {
            let worth = other.unit_price.times(other.quantity).map_err(too_much)?;
            spent = spent.plus(worth).map_err(too_much)?;
        }
    }
    let worth = line.unit_price.times(line.quantity).map_err(too_much)?;
    match approval_ground(line.payer, worth, &Spending { limit, spent }) {
        Ok(_) => Ok(()),
        Err(unapproved) => {
            let missing = unapproved.to_string();
            Err(Refusal::NotNow {
                detail: format!("not allowed now; what is missing: {missing}"),
                missing: vec![missing],
            })
        }
    }
}
