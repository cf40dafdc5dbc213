//! One method a table. Where a row has many columns they come in a struct of their own.

use domain::evidence::Censored;
use domain::id::{
    ActionTakenId, ApplianceId, ApprovalId, BranchId, CallId, ContactId, CustomerId, FindingId, FittedPartId,
    InterlockDefeatId, PartId, PartLineId, PartMovementId, PersonId, QuoteId, SiteId, StoreId, TestRunId,
    VisitId, WaitingId, WaiverId, WorkOrderId,
};
use domain::time::Timestamp;

use super::{Batch, Table};
use crate::StoreError;
use crate::site_water::{self, NewWaterSample};
use crate::test_run::NewTestRun;

#[derive(Debug, Clone)]
pub struct ApplianceRow<'a> {
    pub id: ApplianceId,
    pub site: SiteId,
    pub model_key: &'a str,
    pub model_version: u32,
    pub position_label: &'a str,
    pub serial: &'a str,
    pub installed_on: Timestamp,
    pub state: &'a str,
    pub created_at: Timestamp,
}

#[derive(Debug, Clone)]
pub struct CallRow<'a> {
    pub id: CallId,
    pub site: SiteId,
    pub contact: ContactId,
    pub words: &'a str,
    pub urgency: &'a str,
    pub dangers: &'a [&'a str],
    pub stop_use: bool,
    pub taken_by: PersonId,
    pub received_at: Timestamp,
}

#[derive(Debug, Clone)]
pub struct WorkOrderRow<'a> {
    pub id: WorkOrderId,
    pub call: Option<CallId>,
    pub site: SiteId,
    pub appliance: Option<ApplianceId>,
    pub kind: &'a str,
    pub urgency: &'a str,
    pub state: &'a str,
    pub outcome: Option<&'a str>,
    pub restored_at: Option<Timestamp>,
    pub closed_at: Option<Timestamp>,
    pub follows: Option<WorkOrderId>,
    pub spending_limit_hundredths: i64,
    pub spending_currency: &'a str,
    pub signed_off_by: Option<ContactId>,
    pub received_at: Timestamp,
    pub version: i64,
    pub evidence_version: i64,
}

#[derive(Debug, Clone)]
pub struct WaitingRow<'a> {
    pub id: WaitingId,
    pub work_order: WorkOrderId,
    pub reason: &'a str,
    pub from_at: Timestamp,
    pub to_at: Option<Timestamp>,
    pub pauses_clock: bool,
}

#[derive(Debug, Clone)]
pub struct VisitRow<'a> {
    pub id: VisitId,
    pub work_order: WorkOrderId,
    pub planned_at: Timestamp,
    pub set_out_at: Option<Timestamp>,
    pub arrived_at: Option<Timestamp>,
    pub left_at: Option<Timestamp>,
    pub missed_at: Option<Timestamp>,
    pub result: Option<&'a str>,
    pub created_at: Timestamp,
}

#[derive(Debug, Clone)]
pub struct FindingRow<'a> {
    pub id: FindingId,
    pub work_order: WorkOrderId,
    pub appliance: ApplianceId,
    pub position: &'a str,
    /// Model, key and version of a fault of a catalogue.
    pub fault: Option<(&'a str, &'a str, u32)>,
    pub finding: &'a str,
    pub failure_mode: Option<&'a str>,
    pub mechanism: Option<&'a str>,
    pub cause: Option<&'a str>,
    pub evidence: &'a str,
    pub confirmed_by: PersonId,
    pub found_at: Timestamp,
}

#[derive(Debug, Clone)]
pub struct PartLineRow<'a> {
    pub id: PartLineId,
    pub work_order: WorkOrderId,
    pub finding: Option<FindingId>,
    pub part: PartId,
    pub position: &'a str,
    pub quantity: u32,
    pub state: &'a str,
    pub payer: &'a str,
    pub price_hundredths: i64,
    pub currency: &'a str,
    pub promised_on: Option<Timestamp>,
    pub fitted_at: Option<Timestamp>,
    pub created_at: Timestamp,
}

#[derive(Debug, Clone)]
pub struct QuoteRow<'a> {
    pub id: QuoteId,
    pub work_order: WorkOrderId,
    pub number: u32,
    pub lines: &'a serde_json::Value,
    pub total_hundredths: i64,
    pub currency: &'a str,
    pub made_by: PersonId,
    pub made_at: Timestamp,
}

#[derive(Debug, Clone)]
pub struct ApprovalRow {
    pub id: ApprovalId,
    pub work_order: WorkOrderId,
    pub quote: QuoteId,
    pub contact: ContactId,
    pub approved: bool,
    pub decided_at: Timestamp,
    pub recorded_by: PersonId,
}

#[derive(Debug, Clone)]
pub struct ActionRow<'a> {
    pub id: ActionTakenId,
    pub work_order: WorkOrderId,
    pub position: &'a str,
    pub action: &'a str,
    pub part_line: Option<PartLineId>,
    pub taken_by: PersonId,
    pub taken_at: Timestamp,
}

#[derive(Debug, Clone)]
pub struct InterlockDefeatRow<'a> {
    pub id: InterlockDefeatId,
    pub work_order: WorkOrderId,
    pub opened_by: PersonId,
    pub second_person: &'a str,
    pub opened_at: Timestamp,
    pub expires_at: Timestamp,
    pub removed: Option<(Timestamp, PersonId)>,
}

impl Batch {
    pub fn model(&mut self, model: &domain::equipment::Model, at: Timestamp) -> Result<(), StoreError> {
        let line = self.line(Table::Model).text(model.key.as_str()).number(model.version).json(model)?;
        line.no_hash().time(at).end();
        Ok(())
    }

    /// A company's own catalogue, and each of its faults.
    pub fn fault_catalogue(
        &mut self,
        catalogue: &domain::equipment::FaultCatalogue,
        at: Timestamp,
    ) -> Result<(), StoreError> {
        let model = catalogue.model.as_str();
        let line = self.line(Table::FaultCatalogue).text(model).number(catalogue.version).json(catalogue)?;
        line.no_hash().time(at).end();
        for fault in &catalogue.faults {
            let line = self.line(Table::Fault).text(model).text(fault.key.as_str()).number(fault.version);
            line.text(fault.position.key()).json(fault)?.no_hash().time(at).end();
        }
        Ok(())
    }

    pub fn part(
        &mut self,
        id: PartId,
        number: &str,
        title: &str,
        price_hundredths: i64,
        currency: &str,
        at: Timestamp,
    ) {
        let line = self.line(Table::Part).id(id).text(number).text(title);
        line.money(price_hundredths).text(currency).no_hash().time(at).end();
    }

    pub fn part_fit(&mut self, part: PartId, model_key: &str, position: &str) {
        self.line(Table::PartFit).id(part).text(model_key).text(position).end();
    }

    pub fn branch(&mut self, id: BranchId, name: &str, at: Timestamp) {
        self.line(Table::Branch).id(id).text(name).no_hash().time(at).end();
    }

    pub fn person(&mut self, id: PersonId, name: &str, role: &str, skills: &[&str], at: Timestamp) {
        self.line(Table::Person).id(id).text(name).text(role).words(skills).no_hash().time(at).end();
    }

    pub fn store(&mut self, id: StoreId, name: &str, person: Option<PersonId>, at: Timestamp) {
        self.line(Table::Store).id(id).text(name).optional_id(person).no_hash().time(at).end();
    }

    pub fn customer(&mut self, id: CustomerId, name: &str, external_id: &str, at: Timestamp) {
        self.line(Table::Customer).id(id).text(name).text(external_id).no_hash().time(at).end();
    }

    #[expect(clippy::too_many_arguments, reason = "one row")]
    pub fn site(
        &mut self,
        id: SiteId,
        customer: CustomerId,
        branch: BranchId,
        name: &str,
        place: &str,
        time_zone: &str,
        at: Timestamp,
    ) {
        let line = self.line(Table::Site).id(id).id(customer).id(branch).text(name);
        line.text(place).text(time_zone).no_hash().time(at).end();
    }

    pub fn site_water(&mut self, new: NewWaterSample) -> Result<(), StoreError> {
        let payload = site_water::Payload { sample: new.sample, as_read: new.as_read };
        let line = self.line(Table::SiteWater).id(new.id).id(new.site).time(new.taken_at).json(&payload)?;
        line.no_hash().time(new.taken_at).end();
        Ok(())
    }

    pub fn contact(&mut self, id: ContactId, site: SiteId, name: &str, phone: &str, at: Timestamp) {
        self.line(Table::Contact).id(id).id(site).text(name).text(phone).no_hash().time(at).end();
    }

    pub fn appliance(&mut self, row: &ApplianceRow<'_>) {
        let line = self.line(Table::Appliance).id(row.id).id(row.site).text(row.model_key);
        let line = line.number(row.model_version).text(row.position_label).text(row.serial);
        line.day(row.installed_on).text(row.state).no_hash().time(row.created_at).end();
    }

    pub fn call(&mut self, row: &CallRow<'_>) {
        let line =
            self.line(Table::Call).id(row.id).id(row.site).id(row.contact).text(row.words).text(row.urgency);
        let line = line.words(row.dangers).truth(row.stop_use).id(row.taken_by).time(row.received_at);
        line.no_hash().time(row.received_at).end();
    }

    pub fn work_order(&mut self, row: &WorkOrderRow<'_>) {
        let line = self.line(Table::WorkOrder).id(row.id).optional_id(row.call).id(row.site);
        let line = line.optional_id(row.appliance).text(row.kind).text(row.urgency).text(row.state);
        let line =
            line.optional_text(row.outcome).optional_time(row.restored_at).optional_time(row.closed_at);
        let line = line
            .optional_id(row.follows)
            .money(row.spending_limit_hundredths)
            .text(row.spending_currency)
            .optional_id(row.signed_off_by)
            .time(row.received_at)
            .number(row.version);
        line.number(row.evidence_version).no_hash().time(row.received_at).end();
    }

    /// The complaint that the call was made for has place 0.
    pub fn symptom(&mut self, work_order: WorkOrderId, code: &str, place: u32) {
        self.line(Table::Symptom).id(work_order).text(code).number(place).end();
    }

    pub fn waiting(&mut self, row: &WaitingRow<'_>) {
        let line = self.line(Table::Waiting).id(row.id).id(row.work_order).text(row.reason).time(row.from_at);
        line.optional_time(row.to_at).truth(row.pauses_clock).no_hash().time(row.from_at).end();
    }

    pub fn visit(&mut self, row: &VisitRow<'_>) {
        let line = self.line(Table::Visit).id(row.id).id(row.work_order).time(row.planned_at);
        let line =
            line.optional_time(row.set_out_at).optional_time(row.arrived_at).optional_time(row.left_at);
        let line = line.optional_time(row.missed_at).optional_text(row.result);
        line.no_hash().time(row.created_at).end();
    }

    pub fn visit_person(&mut self, visit: VisitId, person: PersonId) {
        self.line(Table::VisitPerson).id(visit).id(person).end();
    }

    /// A run with its readings; it was checked against its procedure.
    pub fn test_run(&mut self, new: &NewTestRun, received_at: Timestamp) -> Result<(), StoreError> {
        let run = &new.run;
        let payload = crate::test_run::Payload::of(run);
        let line = self.line(Table::TestRun).id(run.id).id(run.appliance).optional_id(run.work_order);
        let line = line.optional_id(run.visit).text(run.procedure.key.as_str()).number(run.procedure.version);
        let line = line.text(&run.phase.to_string()).text(run.device_id.as_str());
        let line = line
            .number(run.sequence.cast_signed())
            .time(run.taken_at)
            .number(new.clock_correction_microseconds);
        let line = line.time(received_at).id(new.taken_by).truth(new.late).optional_id(run.supersedes);
        let reason = run.retraction_reason.as_ref().map(domain::text::Text::as_str);
        line.optional_text(reason).json(&payload)?.bytes(&new.sha256).end();
        for (reading, quantity) in run.readings.iter().zip(&new.quantities) {
            let value = reading.value.as_ref();
            let series = reading.series.as_ref();
            let canonical = match (value, quantity) {
                (Some(value), Some(quantity)) => {
                    let canonical = value.as_read.canonical(*quantity);
                    Some(canonical.map_err(|error| crate::test_run::unstorable(run.id, error))?)
                }
                (Some(_), None) => {
                    return Err(crate::test_run::unstorable(run.id, "a value without a quantity"));
                }
                (None, _) => None,
            };
            let unit =
                value.map(|value| value.as_read.unit.as_str()).or(series.map(|series| series.unit.as_str()));
            let line = self.line(Table::Reading).id(run.id).text(reading.step.as_str());
            let line = line.optional_text(quantity.map(domain::quantity::QuantityKind::key));
            let line = line.optional_text(value.map(|value| value.as_read.text.as_str()));
            let line =
                line.float(value.map(|value| value.as_read.value)).optional_text(unit).float(canonical);
            let line = line.float(value.and_then(|value| value.standard_uncertainty));
            let line =
                line.optional_text(value.and_then(|value| value.censored).map(|censored| match censored {
                    Censored::AtLeast => "at_least",
                    Censored::AtMost => "at_most",
                }));
            let line = line.optional_text(reading.choice.as_ref().map(domain::text::Key::as_str));
            let line = line.floats(series.map(|series| series.values.as_slice()));
            let line = line.floats(series.map(|series| series.times_s.as_slice()));
            match crate::test_run::Detail::of(reading) {
                Some(detail) => line.json(&detail)?.end(),
                None => line.null().end(),
            }
        }
        Ok(())
    }

    pub fn finding(&mut self, row: &FindingRow<'_>, test_runs: &[TestRunId]) {
        let line =
            self.line(Table::Finding).id(row.id).id(row.work_order).id(row.appliance).text(row.position);
        let line = line.text(row.finding).optional_text(row.failure_mode).optional_text(row.mechanism);
        let line = line.optional_text(row.cause).text(row.evidence).id(row.confirmed_by).time(row.found_at);
        let line = match row.fault {
            Some((model, key, version)) => line.text(model).text(key).number(version),
            None => line.null().null().null(),
        };
        line.no_hash().time(row.found_at).end();
        for test_run in test_runs {
            self.line(Table::FindingTestRun).id(row.id).id(*test_run).id(row.appliance).end();
        }
    }

    pub fn fault_count(
        &mut self,
        site: SiteId,
        appliance: ApplianceId,
        position: &str,
        failure_mode: &str,
        day: Timestamp,
        findings: u32,
    ) {
        let line = self.line(Table::FaultCountDay).id(site).id(appliance).text(position).text(failure_mode);
        line.day(day).number(findings).end();
    }

    pub fn part_line(&mut self, row: &PartLineRow<'_>) {
        let line =
            self.line(Table::PartLine).id(row.id).id(row.work_order).optional_id(row.finding).id(row.part);
        let line = line.text(row.position).number(row.quantity).text(row.state).text(row.payer);
        let line = line.money(row.price_hundredths).text(row.currency).optional_day(row.promised_on);
        line.optional_time(row.fitted_at).no_hash().time(row.created_at).end();
    }

    pub fn quote(&mut self, row: &QuoteRow<'_>) -> Result<(), StoreError> {
        let line =
            self.line(Table::Quote).id(row.id).id(row.work_order).number(row.number).json(row.lines)?;
        let line = line.money(row.total_hundredths).text(row.currency).id(row.made_by).time(row.made_at);
        line.no_hash().end();
        Ok(())
    }

    pub fn approval(&mut self, row: &ApprovalRow) {
        let decision = if row.approved { "approved" } else { "declined" };
        let line = self.line(Table::Approval).id(row.id).id(row.work_order).id(row.quote).id(row.contact);
        let line = line.text(decision).time(row.decided_at).id(row.recorded_by);
        line.no_hash().time(row.decided_at).end();
    }

    pub fn action(&mut self, row: &ActionRow<'_>) {
        let line =
            self.line(Table::ActionTaken).id(row.id).id(row.work_order).text(row.position).text(row.action);
        let line = line.optional_id(row.part_line).id(row.taken_by).time(row.taken_at);
        line.no_hash().time(row.taken_at).end();
    }

    #[expect(clippy::too_many_arguments, reason = "one row")]
    pub fn fitted_part(
        &mut self,
        id: FittedPartId,
        appliance: ApplianceId,
        position: &str,
        part: PartId,
        serial: Option<&str>,
        fitted_at: Timestamp,
        removed_at: Option<Timestamp>,
    ) {
        let line = self.line(Table::FittedPart).id(id).id(appliance).text(position).id(part);
        line.optional_text(serial).time(fitted_at).optional_time(removed_at).end();
    }

    pub fn interlock_defeat(&mut self, row: &InterlockDefeatRow<'_>) {
        let line = self.line(Table::InterlockDefeat).id(row.id).id(row.work_order).id(row.opened_by);
        let line = line.text(row.second_person).time(row.opened_at).time(row.expires_at);
        let line =
            line.optional_time(row.removed.map(|(at, _)| at)).optional_id(row.removed.map(|(_, by)| by));
        line.no_hash().time(row.opened_at).end();
    }

    pub fn waiver(
        &mut self,
        id: WaiverId,
        work_order: WorkOrderId,
        what: &str,
        reason: &str,
        given_by: PersonId,
        given_at: Timestamp,
    ) {
        let line = self.line(Table::Waiver).id(id).id(work_order).text(what).text(reason);
        line.id(given_by).time(given_at).no_hash().end();
    }

    #[expect(clippy::too_many_arguments, reason = "one row")]
    pub fn part_movement(
        &mut self,
        id: PartMovementId,
        part: PartId,
        from: Option<StoreId>,
        to: Option<StoreId>,
        quantity: u32,
        part_line: Option<PartLineId>,
        moved_at: Timestamp,
        moved_by: PersonId,
    ) {
        let line = self.line(Table::PartMovement).id(id).id(part).optional_id(from).optional_id(to);
        line.number(quantity).optional_id(part_line).time(moved_at).id(moved_by).no_hash().end();
    }
}
