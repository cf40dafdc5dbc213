use chrono::NaiveDate;
use domain::id::{PartLineId, QuoteId, WorkOrderId};
use domain::money::Amount;
use domain::work::{PartLineAction, part_line_after};
use serde::Serialize;
use store::part_line::{self, PartLine};
use store::quote::{self, NewQuote, Quote, QuotedLine};
use store::{Creation, UnitOfWork};

use crate::use_case::{body_sha256, is_new, written};
use crate::work_order::hold;
use crate::{Caller, Created, Fault, Refusal, UseCase};

/// Quotes some lines of an order, as they stand now.
pub struct CreateQuote(pub QuoteRequest);

#[derive(Debug, Clone, Serialize)]
pub struct QuoteRequest {
    pub id: QuoteId,
    pub work_order: WorkOrderId,
    pub part_lines: Vec<PartLineId>,
    pub valid_until: Option<NaiveDate>,
}

impl UseCase for CreateQuote {
    const NAME: &'static str = "create_quote";
    type Outcome = Created<Quote>;

    async fn carry_out(self, unit: &mut UnitOfWork, caller: &Caller) -> Result<Self::Outcome, Refusal> {
        let request = self.0;
        let held = hold(unit, caller, request.work_order).await?;
        let hash = body_sha256(&request)?;
        // A repeated quote is known before its lines are judged, which the first one moved.
        if let Some(known) = quote::hash_of(unit, request.id).await? {
            is_new(if known == hash { Creation::AlreadyThere } else { Creation::Differs }, "quote")?;
            let item = written(quote::get(unit, request.id).await?, "quote")?;
            return Ok(Created { item, is_new: false });
        }
        held.require_open()?;
        let lines = part_line::of_order_within(unit, request.work_order).await?;
        let lines = listed(&request.part_lines, lines)?;
        let new = NewQuote {
            id: request.id,
            work_order: request.work_order,
            total: total(&lines)?,
            currency: lines[0].currency,
            lines: lines.iter().map(quoted).collect(),
            valid_until: request.valid_until,
            made_by: caller.principal.person,
        };
        is_new(quote::insert(unit, &new, &hash).await?, "quote")?;
        for mut line in lines {
            let version = line.version;
            if let Some(state) = part_line_after(line.state, PartLineAction::Quote) {
                line.state = state;
                part_line::update(unit, &line, version).await?;
                unit.record(held.change("part_line.moved", line.id).because("quoted"));
            }
        }
        unit.record(held.change("quote.created", request.id));
        let item = written(quote::get(unit, request.id).await?, "quote")?;
        Ok(Created { item, is_new: true })
    }
}

/// The listed lines, if they are the order's, can be quoted, and are of one currency.
fn listed(ids: &[PartLineId], lines: Vec<PartLine>) -> Result<Vec<PartLine>, Refusal> {
    let mut faults = Vec::new();
    if ids.is_empty() {
        faults.push(Fault::at("/part_line_ids", "name the lines to quote"));
    }
    for (index, id) in ids.iter().enumerate() {
        let pointer = format!("/part_line_ids/{index}");
        match lines.iter().find(|line| line.id == *id) {
            _ if ids[..index].contains(id) => faults.push(Fault::at(pointer, "stands twice")),
            None => faults.push(Fault::at(pointer, "the order has no such part line")),
            Some(line) if part_line_after(line.state, PartLineAction::Quote).is_none() => {
                faults.push(Fault::at(pointer, format!("is {} and is not quoted any more", line.state)));
            }
            Some(_) => {}
        }
    }
    Refusal::unless_faultless(faults)?;
    let listed: Vec<PartLine> = lines.into_iter().filter(|line| ids.contains(&line.id)).collect();
    if listed.iter().any(|line| line.currency != listed[0].currency) {
        return Err(Refusal::invalid("/part_line_ids", "a quote is in one currency; make one for each"));
    }
    Ok(listed)
}

fn quoted(line: &PartLine) -> QuotedLine {
    QuotedLine {
        part_line: line.id,
        part_number: line.part_number.clone(),
        quantity: line.quantity,
        unit_price: line.unit_price,
    }
}

fn total(lines: &[PartLine]) -> Result<Amount, Refusal> {
    let sum =
        lines.iter().try_fold(Amount::ZERO, |sum, line| sum.plus(line.unit_price.times(line.quantity)?));
    sum.map_err(|error| Refusal::Conflict { detail: error.to_string() })
}
