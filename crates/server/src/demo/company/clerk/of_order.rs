//! Entries below a work order.

use std::sync::Arc;

use application::Refusal;
use application::action_taken::CreateActionTaken;
use application::call::TakeCall;
use application::finding::CreateFinding;
use application::interlock_defeat::{OpenInterlockDefeat, RemoveInterlockDefeat};
use application::part_line::{CreatePartLine, LineSaying, MovePartLine};
use application::quote::{CreateQuote, QuoteRequest, RecordApproval};
use application::visit::{BookVisit, MoveVisit};
use application::waiting::{BeginWaiting, EndWaiting};
use application::waiver::GiveWaiver;
use application::work_order::{CreateWorkOrder, MoveSaying, MoveWorkOrder, UpdateWorkOrder};
use domain::id::{PersonId, WorkOrderId};
use domain::money::{Amount, Currency};
use domain::text::Words;
use domain::time::Timestamp;
use domain::work::{
    ApplianceState, Decision, Missing, OrderAction, PartLineAction, SymptomResult, VisitAction, WaiverCode,
};
use rust_decimal::Decimal;
use simulator::history::{self, Entry, VisitMove};
use store::action_taken::NewActionTaken;
use store::call::NewCall;
use store::finding::NewFinding;
use store::interlock_defeat::{NewInterlockDefeat, SecondPerson};
use store::part_line::NewPartLine;
use store::quote::NewApproval;
use store::visit::NewVisit;
use store::waiting::NewWaiting;
use store::waiver::NewWaiver;
use store::work_order::{Money, NewWorkOrder};

use super::{Clerk, day, key, name, odd, word};
use crate::wiring::Failure;

fn amount(hundredths: i64) -> Result<Amount, Failure> {
    Amount::new(Decimal::new(hundredths, 2)).map_err(odd)
}

fn currency(code: &str) -> Result<Currency, Failure> {
    Currency::try_from(code.to_owned()).map_err(odd)
}

fn words(text: impl Into<String>) -> Result<Words, Failure> {
    Words::new(text).map_err(odd)
}

/// The order whose readings must be in before this is entered.
fn order_of(entry: &Entry) -> Option<WorkOrderId> {
    Some(match entry {
        Entry::WorkOrderMoved(moved) => moved.work_order,
        Entry::VisitMoved(moved) => moved.work_order,
        Entry::Finding(finding) => finding.work_order,
        Entry::PartLineMoved(moved) => moved.work_order,
        Entry::Action(action) => action.work_order,
        Entry::InterlockDefeat(defeat) => defeat.work_order,
        Entry::InterlockRestored(restored) => restored.work_order,
        Entry::Closed(closed) => closed.work_order,
        _ => return None,
    })
}

impl Clerk {
    pub(super) async fn of_an_order(
        &mut self,
        entry: Entry,
        at: Timestamp,
        by: Option<PersonId>,
    ) -> Result<(), Failure> {
        if let Some(order) = order_of(&entry) {
            self.send_readings_of(order).await?;
        }
        match entry {
            Entry::Call(call) => {
                self.calls.insert(call.id, call);
                Ok(())
            }
            Entry::WorkOrder(order) => self.work_order(order, at, by).await,
            Entry::ApplianceConfirmed(confirmed) => {
                self.machines.insert(confirmed.work_order, confirmed.appliance);
                let update = |expected_version| UpdateWorkOrder {
                    id: confirmed.work_order,
                    expected_version,
                    urgency: None,
                    appliance: Some(confirmed.appliance),
                    symptoms: None,
                    spending_limit: None,
                };
                self.change(by, confirmed.work_order.uuid(), update, |order| order.version).await
            }
            Entry::WorkOrderMoved(moved) => {
                let action = match moved.to {
                    "assessed" => OrderAction::Assess,
                    "planned" => OrderAction::Plan,
                    "under_repair" => OrderAction::StartRepair,
                    "repaired_unproven" => OrderAction::ReportRepaired,
                    "proven" => OrderAction::Prove,
                    other => return Err(odd(other)),
                };
                let restored_at = (action == OrderAction::ReportRepaired).then_some(at);
                let mut saying = MoveSaying { restored_at, ..MoveSaying::default() };
                if action == OrderAction::Prove {
                    let told = self.symptoms.get(&moved.work_order).into_iter().flatten();
                    saying.symptoms = told.map(|symptom| (symptom.clone(), SymptomResult::Gone)).collect();
                }
                match self.move_order(moved.work_order, action, saying, by).await {
                    // the service sees in the readings what the technician did not
                    Err(Failure::Refused(Refusal::Missing(_))) if action == OrderAction::Prove => {
                        self.unproven.insert(moved.work_order);
                        Ok(())
                    }
                    moved => moved,
                }
            }
            Entry::Closed(closed) => self.close(&closed, by).await,
            Entry::WaitingBegan(began) => {
                let new = NewWaiting {
                    id: began.id,
                    work_order: began.work_order,
                    reason: word(began.reason)?,
                    from_at: Some(at),
                    pauses_clock: began.pauses_clock,
                };
                self.perform(by, BeginWaiting(new)).await.map(drop)
            }
            Entry::WaitingEnded(ended) => {
                let end = |expected_version| EndWaiting { id: ended.id, expected_version, at: Some(at) };
                self.change(by, ended.id.uuid(), end, |waiting| waiting.version).await
            }
            entry => self.of_a_visit(entry, at, by).await,
        }
    }

    async fn of_a_visit(&mut self, entry: Entry, at: Timestamp, by: Option<PersonId>) -> Result<(), Failure> {
        match entry {
            Entry::VisitPlanned(visit) => {
                let history::VisitPlanned { id, work_order, planned_at, people } = visit;
                let planned_at = self.shift.of(planned_at);
                self.perform(
                    by,
                    BookVisit(NewVisit {
                        id,
                        work_order,
                        planned_at,
                        people,
                        overlap_reason: Some(words("The simulated company sends whom it has.")?),
                    }),
                )
                .await
                .map(drop)
            }
            Entry::VisitMoved(moved) => self.move_visit(&moved, at, by).await,
            Entry::TestRun(run) => {
                let (order, by) = (run.work_order, by.ok_or_else(|| odd("readings of nobody"))?);
                let order = order.ok_or_else(|| odd("readings without an order"))?;
                let mut run = *run;
                // a phone does not say the epoch: it follows from the actions
                run.epoch = 0;
                run.taken_at = self.shift.of(run.taken_at);
                self.readings.entry(order).or_insert_with(|| (by, Vec::new())).1.push(run);
                Ok(())
            }
            Entry::Finding(finding) => self.finding(finding, at, by).await,
            Entry::Action(action) => {
                let new = NewActionTaken {
                    id: action.id,
                    work_order: action.work_order,
                    position: key(action.position)?,
                    action: key(action.action)?,
                    part_line: action.part_line,
                    expires_at: action.expires_at.map(|at| self.shift.of(at)),
                    taken_at: self.shift.of(action.taken_at),
                };
                self.perform(by, CreateActionTaken(new)).await.map(drop)
            }
            Entry::InterlockDefeat(defeat) => {
                let new = NewInterlockDefeat {
                    id: defeat.id,
                    work_order: defeat.work_order,
                    second: SecondPerson::OfKitchen(name(defeat.second_person)?),
                    opened_at: Some(at),
                    expires_at: self.shift.of(defeat.expires_at),
                };
                self.perform(by, OpenInterlockDefeat(new)).await.map(drop)
            }
            Entry::InterlockRestored(restored) => {
                self.perform(by, RemoveInterlockDefeat { id: restored.id, at: Some(at) }).await.map(drop)
            }
            Entry::Waiver(waiver) => {
                let (what, reason) = (word(waiver.what)?, words(waiver.reason)?);
                let (id, work_order, code) = (waiver.id, waiver.work_order, WaiverCode::Other);
                let new = NewWaiver { id, work_order, what, code, reason };
                // the management gives what the technician asks for
                self.perform(None, GiveWaiver(new)).await.map(drop)
            }
            entry => self.of_a_part(entry, at, by).await,
        }
    }

    async fn of_a_part(&mut self, entry: Entry, at: Timestamp, by: Option<PersonId>) -> Result<(), Failure> {
        match entry {
            Entry::PartLine(line) => {
                let new = NewPartLine {
                    id: line.id,
                    work_order: line.work_order,
                    finding: Some(line.finding),
                    part: line.part,
                    position: Some(key(line.position)?),
                    quantity: line.quantity,
                    payer: word(line.payer)?,
                    unit_price: Some(amount(line.price_hundredths)?),
                    currency: Some(currency(line.currency)?),
                    fit_override: None,
                };
                self.perform(by, CreatePartLine(new)).await.map(drop)
            }
            Entry::PartLineMoved(moved) => self.move_line(&moved, by).await,
            Entry::Quote(quote) => {
                self.quoted.extend(&quote.part_lines);
                let history::Quote { id, work_order, part_lines, .. } = quote;
                let request = QuoteRequest { id, work_order, part_lines, valid_until: None };
                self.perform(by, CreateQuote(request)).await.map(drop)
            }
            Entry::Approval(approval) => {
                let new = NewApproval {
                    id: approval.id,
                    work_order: approval.work_order,
                    quote: approval.quote,
                    contact: Some(approval.approved_by),
                    decision: if approval.approved { Decision::Approved } else { Decision::Declined },
                    decided_at: at,
                    up_to: None,
                };
                self.perform(by, RecordApproval(new)).await.map(drop)
            }
            other => Err(odd(format_args!("{other:?}"))),
        }
    }

    async fn work_order(
        &mut self,
        order: history::WorkOrder,
        at: Timestamp,
        by: Option<PersonId>,
    ) -> Result<(), Failure> {
        let call = order.call.and_then(|call| self.calls.remove(&call));
        self.machines.extend(order.appliance.map(|appliance| (order.id, appliance)));
        let limit = Money {
            amount: amount(order.spending_limit_hundredths)?,
            currency: currency(simulator::company::CURRENCY)?,
        };
        let new = NewWorkOrder {
            id: order.id,
            call: order.call,
            site: order.site,
            appliance: order.appliance,
            kind: word(order.work)?,
            urgency: word(order.urgency)?,
            follows: order.follows,
            spending_limit: Some(limit),
            symptoms: order.symptoms.iter().map(|symptom| key(symptom)).collect::<Result<_, _>>()?,
            received_at: Some(call.as_ref().map_or(at, |call| self.shift.of(call.received_at))),
        };
        self.symptoms.insert(new.id, new.symptoms.clone());
        let Some(call) = call else {
            return self.perform(by, CreateWorkOrder(new)).await.map(drop);
        };
        let call = NewCall {
            id: call.id,
            site: call.site,
            contact: Some(call.contact),
            words: words(call.words)?,
            urgency: word(call.urgency)?,
            dangers: call.dangers.iter().map(|danger| word(danger)).collect::<Result<_, _>>()?,
            stop_use: call.stop_use,
            continued_use_reason: None,
            answers: Vec::new(),
            received_at: Some(self.shift.of(call.received_at)),
        };
        self.perform(by, TakeCall { call, orders: vec![new] }).await.map(drop)
    }

    async fn move_order(
        &mut self,
        id: WorkOrderId,
        action: OrderAction,
        saying: MoveSaying,
        by: Option<PersonId>,
    ) -> Result<(), Failure> {
        let versions = Arc::clone(self.application.versions());
        let act = |expected_version| {
            let (versions, saying) = (Arc::clone(&versions), saying.clone());
            MoveWorkOrder { versions, id, expected_version, action, saying }
        };
        self.change(by, id.uuid(), act, |order| order.version).await
    }

    async fn close(&mut self, closed: &history::Closed, by: Option<PersonId>) -> Result<(), Failure> {
        if closed.outcome == "cancelled" {
            let why = Some("The caller does not need us any more.".to_owned());
            let saying = MoveSaying { why, ..MoveSaying::default() };
            return self.move_order(closed.work_order, OrderAction::Cancel, saying, by).await;
        }
        let (outcome, leaves) = if self.unproven.remove(&closed.work_order) {
            ("temporary_fix", closed.leaves.map(|_| "degraded"))
        } else {
            (closed.outcome, closed.leaves)
        };
        let saying = MoveSaying {
            outcome: Some(word(outcome)?),
            appliance_state: leaves.map(word).transpose()?,
            signed_off_by: closed.signed_off_by,
            ..MoveSaying::default()
        };
        let machine = self.machines.get(&closed.work_order).copied();
        let ended = self.move_order(closed.work_order, OrderAction::Close, saying.clone(), by).await;
        match (ended, machine) {
            (Err(Failure::Refused(Refusal::Missing(missing))), Some(machine))
                if missing.contains(&Missing::Release) =>
            {
                self.release(machine, saying.appliance_state.unwrap_or(ApplianceState::Up)).await?;
                self.move_order(closed.work_order, OrderAction::Close, saying, by).await
            }
            (ended, _) => ended,
        }
    }

    async fn move_visit(
        &mut self,
        moved: &history::VisitMoved,
        at: Timestamp,
        by: Option<PersonId>,
    ) -> Result<(), Failure> {
        let (action, result, appliance_state) = match moved.to {
            VisitMove::SetOut => (VisitAction::SetOut, None, None),
            VisitMove::Arrived => (VisitAction::Arrive, None, None),
            VisitMove::Missed => (VisitAction::Miss, None, None),
            VisitMove::Left { result, leaves } => {
                (VisitAction::Leave, Some(word(result)?), leaves.map(word).transpose()?)
            }
        };
        let act = |expected_version| MoveVisit {
            id: moved.visit,
            expected_version,
            action,
            at: Some(at),
            result,
            appliance_state,
            why: None,
        };
        self.change(by, moved.visit.uuid(), act, |moved| moved.visit.version).await
    }

    async fn finding(
        &mut self,
        finding: history::Finding,
        at: Timestamp,
        by: Option<PersonId>,
    ) -> Result<(), Failure> {
        let fault = match finding.fault {
            Some((fault, version)) => Some((key(fault)?, version)),
            None => None,
        };
        let new = NewFinding {
            id: finding.id,
            work_order: finding.work_order,
            position: key(finding.position)?,
            fault,
            finding: key(finding.finding)?,
            failure_mode: finding.failure_mode.map(key).transpose()?,
            mechanism: finding.mechanism.map(key).transpose()?,
            cause: finding.cause.map(key).transpose()?,
            evidence: key(finding.evidence)?,
            note: None,
            test_runs: finding.test_runs,
            found_at: at,
            supersedes: finding.supersedes,
            retraction_reason: None,
        };
        self.perform(by, CreateFinding(new)).await.map(drop)
    }

    async fn move_line(
        &mut self,
        moved: &history::PartLineMoved,
        by: Option<PersonId>,
    ) -> Result<(), Failure> {
        let action = match moved.to {
            // by the quote itself
            "quoted" => return Ok(()),
            // by the customer's word on it
            "approved" | "withdrawn" if self.quoted.remove(&moved.part_line) => return Ok(()),
            "approved" => PartLineAction::Approve,
            "withdrawn" => PartLineAction::Withdraw,
            "ordered" => PartLineAction::Order,
            "promised" => PartLineAction::Promise,
            "received" => PartLineAction::Receive,
            "set_aside" => PartLineAction::SetAside,
            "fitted" => PartLineAction::Fit,
            other => return Err(odd(other)),
        };
        let saying = LineSaying {
            promised_on: moved.promised_for.map(|at| day(self.shift.of(at))),
            ..LineSaying::default()
        };
        let act = |expected_version| {
            let saying = saying.clone();
            MovePartLine { id: moved.part_line, expected_version, action, saying }
        };
        self.change(by, moved.part_line.uuid(), act, |line| line.version).await
    }
}
