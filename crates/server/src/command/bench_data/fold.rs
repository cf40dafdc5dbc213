//! Folds the entries of a history into the rows that they leave.

use std::collections::BTreeMap;

use domain::evidence::TestRun;
use domain::id::{
    ApplianceId, CallId, FittedPartId, InterlockDefeatId, PartLineId, PersonId, SiteId, VisitId, WaitingId,
    WorkOrderId,
};
use domain::money::Amount;
use domain::procedure::built_in_procedures;
use domain::text::Name;
use domain::time::Timestamp;
use rust_decimal::Decimal;
use sha2::{Digest, Sha256};
use simulator::history::{
    Appliance, Call, Closed, Dated, Entry, Finding, FittedPart, InterlockDefeat, PartLine, SiteWater,
    VisitMove, WaitingBegan, WorkOrder,
};
use store::bulk::{
    ActionRow, ApplianceRow, ApprovalRow, Batch, CallRow, FindingRow, InterlockDefeatRow, PartLineRow,
    QuoteRow, VisitRow, WaitingRow, WorkOrderRow,
};
use store::quote::QuotedLine;
use store::site_water::NewWaterSample;
use store::test_run::NewTestRun;

use crate::wiring::Failure;

/// What is known so far. Rows that never change go out at once, the others at the end.
#[derive(Default)]
pub struct Fold {
    batch: Batch,
    model_of: BTreeMap<ApplianceId, &'static str>,
    appliances: Vec<(Appliance, Timestamp)>,
    states: BTreeMap<ApplianceId, &'static str>,
    calls: BTreeMap<CallId, Timestamp>,
    orders: BTreeMap<WorkOrderId, Order>,
    visits: BTreeMap<VisitId, VisitRow<'static>>,
    waiting: BTreeMap<WaitingId, (WaitingBegan, Timestamp, Option<Timestamp>)>,
    lines: BTreeMap<PartLineId, Line>,
    fitted: BTreeMap<FittedPartId, (FittedPart, Option<Timestamp>)>,
    defeats: BTreeMap<InterlockDefeatId, Defeat>,
    counts: BTreeMap<CountKey, (Timestamp, u32)>,
}

/// Kitchen, machine, position, failure mode, day.
type CountKey = (SiteId, ApplianceId, &'static str, &'static str, i32);
/// A bridged interlock, since when, and who took the bridge away when.
type Defeat = (InterlockDefeat, Timestamp, Option<(Timestamp, PersonId)>);

struct Order {
    entry: WorkOrder,
    received_at: Timestamp,
    appliance: Option<ApplianceId>,
    state: &'static str,
    restored_at: Option<Timestamp>,
    closed: Option<(Closed, Timestamp)>,
    version: i64,
    evidence_version: i64,
}

struct Line {
    entry: PartLine,
    state: &'static str,
    promised_on: Option<Timestamp>,
    fitted_at: Option<Timestamp>,
    at: Timestamp,
}

fn unfit(what: &str) -> Failure {
    Failure::Other(format!("the simulated history speaks of {what} that it never began"))
}

fn quoted(line: &PartLine) -> Result<QuotedLine, Failure> {
    let odd = |error: &dyn std::fmt::Display| Failure::Other(format!("a quoted line: {error}"));
    Ok(QuotedLine {
        part_line: line.id,
        part_number: Name::new(line.part_number.as_str()).map_err(|error| odd(&error))?,
        quantity: line.quantity,
        unit_price: Amount::new(Decimal::new(line.price_hundredths, 2)).map_err(|error| odd(&error))?,
    })
}

impl Fold {
    pub fn take(&mut self, dated: Dated) -> Result<(), Failure> {
        let at = dated.at;
        match dated.entry {
            Entry::Model(model) => self.batch.model(&model, at)?,
            Entry::FaultCatalogue(catalogue) => self.batch.fault_catalogue(&catalogue, at)?,
            Entry::Part(part) => {
                self.batch.part(part.id, &part.number, &part.name, part.price_hundredths, part.currency, at);
                for model in part.models {
                    self.batch.part_fit(part.id, model, part.position);
                }
            }
            Entry::Branch(branch) => self.batch.branch(branch.id, &branch.name, at),
            Entry::Person(person) => {
                self.batch.person(person.id, &person.name, person.role, &person.skills, at);
            }
            Entry::Store(store) => self.batch.store(store.id, &store.name, store.person, at),
            Entry::Customer(customer) => {
                self.batch.customer(customer.id, &customer.name, &customer.external_id, at);
            }
            Entry::Site(site) => {
                let (id, customer, branch) = (site.id, site.customer, site.branch);
                self.batch.site(id, customer, branch, &site.name, &site.place, site.time_zone, at);
            }
            Entry::Contact(contact) => {
                self.batch.contact(contact.id, contact.site, &contact.name, &contact.phone, at);
            }
            Entry::SiteWater(water) => {
                let SiteWater { id, site, taken_at, sample, as_read } = water;
                self.batch.site_water(NewWaterSample { id, site, taken_at, sample, as_read })?;
            }
            Entry::Appliance(appliance) => {
                self.model_of.insert(appliance.id, appliance.model);
                self.appliances.push((appliance, at));
            }
            Entry::ApplianceState(state) => {
                self.states.insert(state.appliance, state.state);
            }
            Entry::FittedPart(fitted) => {
                self.fitted.insert(fitted.id, (fitted, None));
            }
            Entry::FittedPartRemoved(removed) => {
                let (_, until) = self.fitted.get_mut(&removed.id).ok_or_else(|| unfit("a fitted part"))?;
                *until = Some(removed.removed_at);
            }
            Entry::PartMovement(moved) => {
                let by = dated.by.ok_or_else(|| unfit("somebody"))?;
                let (id, part, quantity) = (moved.id, moved.part, moved.quantity);
                self.batch.part_movement(id, part, moved.from, moved.to, quantity, moved.part_line, at, by);
            }
            entry => self.take_of_an_order(entry, at, dated.by.ok_or_else(|| unfit("somebody"))?)?,
        }
        Ok(())
    }

    fn order(&mut self, id: WorkOrderId) -> Result<&mut Order, Failure> {
        self.orders.get_mut(&id).ok_or_else(|| unfit("an order"))
    }

    fn take_of_an_order(&mut self, entry: Entry, at: Timestamp, by: PersonId) -> Result<(), Failure> {
        match entry {
            Entry::Call(call) => {
                self.calls.insert(call.id, call.received_at);
                self.call(&call, by);
            }
            Entry::WorkOrder(order) => {
                for (symptom, place) in order.symptoms.iter().zip(0..) {
                    self.batch.symptom(order.id, symptom, place);
                }
                let appliance = order.appliance;
                // one that a call opened was received with the call
                let received_at = order.call.and_then(|call| self.calls.get(&call)).copied().unwrap_or(at);
                let new = Order {
                    entry: order,
                    received_at,
                    appliance,
                    state: "received",
                    restored_at: None,
                    closed: None,
                    version: 1,
                    evidence_version: 0,
                };
                self.orders.insert(new.entry.id, new);
            }
            Entry::ApplianceConfirmed(confirmed) => {
                let order = self.order(confirmed.work_order)?;
                order.appliance = Some(confirmed.appliance);
                order.version += 1;
            }
            Entry::WorkOrderMoved(moved) => {
                let order = self.order(moved.work_order)?;
                order.state = moved.to;
                order.version += 1;
                if moved.to == "repaired_unproven" {
                    order.restored_at = Some(at);
                }
            }
            Entry::Closed(closed) => {
                let order = self.order(closed.work_order)?;
                order.state = if closed.outcome == "cancelled" { "cancelled" } else { "closed" };
                order.version += 1;
                let left = order.appliance.zip(closed.leaves);
                order.closed = Some((closed, at));
                self.states.extend(left);
            }
            Entry::WaitingBegan(began) => {
                self.waiting.insert(began.id, (began, at, None));
            }
            Entry::WaitingEnded(ended) => {
                let (_, _, until) = self.waiting.get_mut(&ended.id).ok_or_else(|| unfit("a waiting"))?;
                *until = Some(at);
            }
            Entry::VisitPlanned(visit) => {
                for person in &visit.people {
                    self.batch.visit_person(visit.id, *person);
                }
                let row = VisitRow {
                    id: visit.id,
                    work_order: visit.work_order,
                    planned_at: visit.planned_at,
                    set_out_at: None,
                    arrived_at: None,
                    left_at: None,
                    missed_at: None,
                    result: None,
                    created_at: at,
                };
                self.visits.insert(visit.id, row);
            }
            Entry::VisitMoved(moved) => {
                let visit = self.visits.get_mut(&moved.visit).ok_or_else(|| unfit("a visit"))?;
                match moved.to {
                    VisitMove::SetOut => visit.set_out_at = Some(at),
                    VisitMove::Arrived => visit.arrived_at = Some(at),
                    VisitMove::Missed => visit.missed_at = Some(at),
                    VisitMove::Left { result, leaves } => {
                        (visit.left_at, visit.result) = (Some(at), Some(result));
                        let appliance = self.order(moved.work_order)?.appliance;
                        self.states.extend(appliance.zip(leaves));
                    }
                }
            }
            Entry::InterlockDefeat(defeat) => {
                self.defeats.insert(defeat.id, (defeat, at, None));
            }
            Entry::InterlockRestored(restored) => {
                let (_, _, removed) = self.defeats.get_mut(&restored.id).ok_or_else(|| unfit("a defeat"))?;
                *removed = Some((at, by));
            }
            entry => self.take_of_a_visit(entry, at, by)?,
        }
        Ok(())
    }

    fn take_of_a_visit(&mut self, entry: Entry, at: Timestamp, by: PersonId) -> Result<(), Failure> {
        match entry {
            Entry::TestRun(run) => self.test_run(*run, at, by)?,
            Entry::Finding(finding) => self.finding(&finding, at, by)?,
            Entry::PartLine(line) => {
                let new = Line { entry: line, state: "identified", promised_on: None, fitted_at: None, at };
                self.lines.insert(new.entry.id, new);
            }
            Entry::PartLineMoved(moved) => {
                let line = self.lines.get_mut(&moved.part_line).ok_or_else(|| unfit("a part line"))?;
                line.state = moved.to;
                line.promised_on = moved.promised_for.or(line.promised_on);
                if moved.to == "fitted" {
                    line.fitted_at = Some(at);
                }
            }
            Entry::Quote(quote) => {
                let lines: Vec<_> = quote.part_lines.iter().filter_map(|line| self.lines.get(line)).collect();
                let lines =
                    lines.into_iter().map(|line| quoted(&line.entry)).collect::<Result<Vec<_>, _>>()?;
                let lines = serde_json::to_value(lines).map_err(|error| Failure::Other(error.to_string()))?;
                self.batch.quote(&QuoteRow {
                    id: quote.id,
                    work_order: quote.work_order,
                    number: quote.number,
                    lines: &lines,
                    total_hundredths: quote.amount_hundredths,
                    currency: quote.currency,
                    made_by: by,
                    made_at: at,
                })?;
            }
            Entry::Approval(approval) => self.batch.approval(&ApprovalRow {
                id: approval.id,
                work_order: approval.work_order,
                quote: approval.quote,
                contact: approval.approved_by,
                approved: approval.approved,
                decided_at: at,
                recorded_by: by,
            }),
            Entry::Action(action) => self.batch.action(&ActionRow {
                id: action.id,
                work_order: action.work_order,
                position: action.position,
                action: action.action,
                part_line: action.part_line,
                taken_by: by,
                taken_at: action.taken_at,
            }),
            Entry::Waiver(waiver) => {
                self.batch.waiver(waiver.id, waiver.work_order, waiver.what, &waiver.reason, by, at);
            }
            other => return Err(Failure::Other(format!("no row is known for {other:?}"))),
        }
        Ok(())
    }

    fn call(&mut self, call: &Call, by: PersonId) {
        self.batch.call(&CallRow {
            id: call.id,
            site: call.site,
            contact: call.contact,
            words: &call.words,
            urgency: call.urgency,
            dangers: &call.dangers,
            stop_use: call.stop_use,
            taken_by: by,
            received_at: call.received_at,
        });
    }

    fn test_run(&mut self, mut run: TestRun, at: Timestamp, by: PersonId) -> Result<(), Failure> {
        if let Some(order) = run.work_order {
            self.order(order)?.evidence_version += 1;
        }
        let procedure = built_in_procedures().iter().find(|procedure| procedure.id() == run.procedure);
        let procedure = procedure.ok_or_else(|| unfit("a procedure"))?;
        let quantity = |step| procedure.step(step).and_then(domain::procedure::Step::quantity);
        let quantities = run.readings.iter().map(|reading| quantity(&reading.step)).collect();
        // a phone does not say the epoch: it follows from the actions
        run.epoch = 0;
        let body = serde_json::to_vec(&run).map_err(|error| Failure::Other(error.to_string()))?;
        let new = NewTestRun {
            run,
            quantities,
            clock_correction_microseconds: 0,
            moved_from: None,
            taken_by: by,
            late: false,
            sha256: Sha256::digest(body).to_vec(),
        };
        Ok(self.batch.test_run(&new, at)?)
    }

    fn finding(&mut self, finding: &Finding, at: Timestamp, by: PersonId) -> Result<(), Failure> {
        let order = self.order(finding.work_order)?;
        order.evidence_version += 1;
        let appliance = order.appliance.ok_or_else(|| unfit("an appliance"))?;
        let site = order.entry.site;
        let row = FindingRow {
            id: finding.id,
            work_order: finding.work_order,
            appliance,
            position: finding.position,
            fault: finding
                .fault
                .and_then(|(key, version)| Some((*self.model_of.get(&appliance)?, key, version))),
            finding: finding.finding,
            failure_mode: finding.failure_mode,
            mechanism: finding.mechanism,
            cause: finding.cause,
            evidence: finding.evidence,
            confirmed_by: by,
            found_at: at,
        };
        self.batch.finding(&row, &finding.test_runs);
        if let Some(failure_mode) = finding.failure_mode {
            use chrono::Datelike as _;
            let day = at.instant().date_naive().num_days_from_ce();
            let key = (site, appliance, finding.position, failure_mode, day);
            self.counts.entry(key).or_insert((at, 0)).1 += 1;
        }
        Ok(())
    }

    /// All rows, those that were still changing included.
    pub fn finish(mut self) -> Batch {
        let batch = &mut self.batch;
        for (appliance, created_at) in &self.appliances {
            batch.appliance(&ApplianceRow {
                id: appliance.id,
                site: appliance.site,
                model_key: appliance.model,
                model_version: 1,
                position_label: &appliance.position_label,
                serial: &appliance.serial,
                installed_on: appliance.installed_on,
                state: self.states.get(&appliance.id).copied().unwrap_or("up"),
                created_at: *created_at,
            });
        }
        for order in self.orders.values() {
            let closed = order.closed.as_ref();
            batch.work_order(&WorkOrderRow {
                id: order.entry.id,
                call: order.entry.call,
                site: order.entry.site,
                appliance: order.appliance,
                kind: order.entry.work,
                urgency: order.entry.urgency,
                state: order.state,
                outcome: closed.map(|(closed, _)| closed.outcome),
                restored_at: order.restored_at,
                closed_at: closed.map(|(_, at)| *at),
                follows: order.entry.follows,
                spending_limit_hundredths: order.entry.spending_limit_hundredths,
                spending_currency: simulator::company::CURRENCY,
                signed_off_by: closed.and_then(|(closed, _)| closed.signed_off_by),
                received_at: order.received_at,
                version: order.version,
                evidence_version: order.evidence_version,
            });
        }
        for visit in self.visits.values() {
            batch.visit(visit);
        }
        for (began, from_at, to_at) in self.waiting.values() {
            batch.waiting(&WaitingRow {
                id: began.id,
                work_order: began.work_order,
                reason: began.reason,
                from_at: *from_at,
                to_at: *to_at,
                pauses_clock: began.pauses_clock,
            });
        }
        for line in self.lines.values() {
            batch.part_line(&PartLineRow {
                id: line.entry.id,
                work_order: line.entry.work_order,
                finding: Some(line.entry.finding),
                part: line.entry.part,
                position: line.entry.position,
                quantity: line.entry.quantity,
                state: line.state,
                payer: line.entry.payer,
                price_hundredths: line.entry.price_hundredths,
                currency: line.entry.currency,
                promised_on: line.promised_on,
                fitted_at: line.fitted_at,
                created_at: line.at,
            });
        }
        for (fitted, removed_at) in self.fitted.values() {
            let serial = fitted.serial.as_deref();
            let (id, appliance, part) = (fitted.id, fitted.appliance, fitted.part);
            batch.fitted_part(id, appliance, fitted.position, part, serial, fitted.fitted_at, *removed_at);
        }
        for (defeat, opened_at, removed) in self.defeats.values() {
            batch.interlock_defeat(&InterlockDefeatRow {
                id: defeat.id,
                work_order: defeat.work_order,
                opened_by: defeat.opened_by,
                second_person: &defeat.second_person,
                opened_at: *opened_at,
                expires_at: defeat.expires_at,
                removed: *removed,
            });
        }
        for ((site, appliance, position, failure_mode, _), (day, findings)) in self.counts {
            self.batch.fault_count(site, appliance, position, failure_mode, day, findings);
        }
        self.batch
    }
}
