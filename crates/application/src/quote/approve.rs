use domain::time::Timestamp;
use domain::work::{Decision, PartLineAction, part_line_after};
use store::quote::{self, Approval, NewApproval, Quote};
use store::{UnitOfWork, quote::QuotedLine};
use store::{part_line, place};

use crate::use_case::{body_sha256, is_new, written};
use crate::work_order::{Held, hold, not_in_future};
use crate::{Caller, Created, Fault, Refusal, UseCase};

/// Keeps what the customer said to a quote: its lines are approved, or withdrawn.
pub struct RecordApproval(pub NewApproval);

impl UseCase for RecordApproval {
    const NAME: &'static str = "create_approval";
    type Outcome = Created<Approval>;

    async fn carry_out(self, unit: &mut UnitOfWork, caller: &Caller) -> Result<Self::Outcome, Refusal> {
        let new = self.0;
        let held = hold(unit, caller, new.work_order).await?;
        let quote = quote::get(unit, new.quote).await?.filter(|quote| quote.work_order == new.work_order);
        let quote = quote.ok_or_else(|| Refusal::invalid("/quote_id", "the order has no such quote"))?;
        let recorded_by = caller.principal.person;
        let creation = quote::insert_approval(unit, &new, recorded_by, &body_sha256(&new)?).await?;
        let is_new = is_new(creation, "approval")?;
        if is_new {
            held.require_open()?;
            let newest = quote::newest_number(unit, new.work_order).await?;
            check(&new, &quote, newest, unit.now())?;
            if let Some(contact) = new.contact
                && !place::contact_belongs_to(unit, contact, held.order.site).await?
            {
                return Err(Refusal::invalid(
                    "/contact_id",
                    "is no contact of the order's kitchen or of its customer",
                ));
            }
            for line in &quote.lines {
                decide(unit, &held, line, new.decision).await?;
            }
            unit.record(held.change("approval.recorded", new.id).because(new.decision.word()));
        }
        let item = written(quote::get_approval(unit, new.id).await?, "approval")?;
        Ok(Created { item, is_new })
    }
}

fn check(new: &NewApproval, quote: &Quote, newest: Option<i32>, now: Timestamp) -> Result<(), Refusal> {
    let mut faults = Vec::new();
    not_in_future("/decided_at", Some(new.decided_at), now, &mut faults);
    if new.decided_at < quote.made_at {
        // The customer spoke before the quote was written: then he named a sum, and the quote stays within it.
        let detail = match &new.up_to {
            Some(up_to) if up_to.currency == quote.currency && quote.total <= up_to.amount => None,
            Some(up_to) => Some((
                "/up_to",
                format!(
                    "the quote came to {} {}, and {} {} were allowed before it: ask again",
                    quote.total, quote.currency, up_to.amount, up_to.currency
                ),
            )),
            None => Some((
                "/decided_at",
                format!(
                    "lies before {}, when the quote was made: say in up_to which sum was allowed then",
                    quote.made_at
                ),
            )),
        };
        if let Some((pointer, detail)) = detail.filter(|_| new.decision == Decision::Approved) {
            faults.push(Fault::at(pointer, detail));
        }
    }
    if let Some(newest) = newest.filter(|newest| new.decision == Decision::Approved && *newest > quote.number)
    {
        let detail =
            format!("quote {newest} took the place of this one, number {}; ask about that", quote.number);
        faults.push(Fault::at("/quote_id", detail));
    }
    let day = new.decided_at.instant().date_naive();
    if new.decision == Decision::Approved && quote.valid_until.is_some_and(|until| day > until) {
        faults.push(Fault::at("/quote_id", "the quote had run out by then; make a new one"));
    }
    Refusal::unless_faultless(faults)
}

/// A line that went on since, or was quoted otherwise, stays as it is.
async fn decide(
    unit: &mut UnitOfWork,
    held: &Held,
    quoted: &QuotedLine,
    decision: Decision,
) -> Result<(), Refusal> {
    let Some(mut line) = part_line::get(unit, quoted.part_line).await? else { return Ok(()) };
    let is_as_quoted = line.quantity == quoted.quantity && line.unit_price == quoted.unit_price;
    let action = match decision {
        Decision::Approved => PartLineAction::Approve,
        Decision::Declined => PartLineAction::Withdraw,
    };
    let is_quoted = line.state == domain::work::PartLineState::Quoted;
    let Some(state) = part_line_after(line.state, action).filter(|_| is_quoted && is_as_quoted) else {
        return Ok(());
    };
    let version = line.version;
    line.state = state;
    part_line::update(unit, &line, version).await?;
    unit.record(
        held.change("part_line.moved", line.id)
            .because(format!("{state}: the customer {decision} the quote")),
    );
    Ok(())
}
