//! Rows in bulk, by COPY: a company of the past for benchmarks, or a move from another store.
//!
//! It goes round the use cases and so writes neither audit rows nor events; the rows must be those that
//! the use cases would have left. Constraints and triggers hold as ever. Rows that are never read back
//! by a second create get the hash of nothing: a body sent again under such an id is another body.

mod line;
mod rows;

pub use rows::{
    ActionRow, ApplianceRow, ApprovalRow, CallRow, FindingRow, InterlockDefeatRow, PartLineRow, QuoteRow,
    VisitRow, WaitingRow, WorkOrderRow,
};

use std::collections::BTreeMap;

use crate::{Database, StoreError};
use line::Line;

/// The tables in an order in which none points at a later one, with the columns that are copied.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Table {
    Model,
    FaultCatalogue,
    Fault,
    Part,
    PartFit,
    Branch,
    Person,
    Store,
    Customer,
    Site,
    SiteWater,
    Contact,
    Appliance,
    Call,
    WorkOrder,
    Symptom,
    Waiting,
    Visit,
    VisitPerson,
    TestRun,
    Reading,
    Finding,
    FindingTestRun,
    PartLine,
    Quote,
    Approval,
    ActionTaken,
    FittedPart,
    InterlockDefeat,
    Waiver,
    PartMovement,
    FaultCountDay,
}

impl Table {
    const fn copy(self) -> &'static str {
        match self {
            Self::Model => "COPY model (key, version, payload, body_sha256, created_at) FROM STDIN",
            Self::FaultCatalogue => {
                "COPY fault_catalogue (model_key, version, payload, body_sha256, created_at) FROM STDIN"
            }
            Self::Fault => {
                "COPY fault (model_key, key, version, position, payload, body_sha256, created_at) FROM STDIN"
            }
            Self::Part => "COPY part (id, number, title, unit_price, currency, body_sha256, created_at) FROM STDIN",
            Self::PartFit => "COPY part_fit (part_id, model_key, position) FROM STDIN",
            Self::Branch => "COPY branch (id, name, body_sha256, created_at) FROM STDIN",
            Self::Person => "COPY person (id, name, role, skills, body_sha256, created_at) FROM STDIN",
            Self::Store => "COPY store (id, name, person_id, body_sha256, created_at) FROM STDIN",
            Self::Customer => "COPY customer (id, name, external_id, body_sha256, created_at) FROM STDIN",
            Self::Site => {
                "COPY site (id, customer_id, branch_id, name, place, time_zone, body_sha256, created_at) FROM STDIN"
            }
            Self::SiteWater => "COPY site_water (id, site_id, taken_at, payload, body_sha256, created_at) FROM STDIN",
            Self::Contact => "COPY contact (id, site_id, name, phone, body_sha256, created_at) FROM STDIN",
            Self::Appliance => {
                "COPY appliance (id, site_id, model_key, model_version, position_label, serial, installed_on, state,
                 body_sha256, created_at) FROM STDIN"
            }
            Self::Call => {
                "COPY call (id, site_id, contact_id, words, urgency, dangers, stop_use, taken_by, received_at,
                 body_sha256, created_at) FROM STDIN"
            }
            Self::WorkOrder => {
                "COPY work_order (id, call_id, site_id, appliance_id, kind, urgency, state, outcome, restored_at,
                 closed_at, follows_id, spending_limit, spending_currency, signed_off_by, received_at, version,
                 evidence_version, body_sha256, created_at) FROM STDIN"
            }
            Self::Symptom => "COPY symptom (work_order_id, code, place) FROM STDIN",
            Self::Waiting => {
                "COPY waiting (id, work_order_id, reason, from_at, to_at, pauses_clock, body_sha256, created_at)
                 FROM STDIN"
            }
            Self::Visit => {
                "COPY visit (id, work_order_id, planned_at, set_out_at, arrived_at, left_at, missed_at, result,
                 body_sha256, created_at) FROM STDIN"
            }
            Self::VisitPerson => "COPY visit_person (visit_id, person_id) FROM STDIN",
            Self::TestRun => {
                "COPY test_run (id, appliance_id, work_order_id, visit_id, procedure_key, procedure_version, phase,
                 device_id, sequence, taken_at, clock_correction, received_at, taken_by, late, supersedes_id,
                 retraction_reason, payload, body_sha256) FROM STDIN"
            }
            Self::Reading => {
                "COPY reading (test_run_id, step, quantity, as_read, as_read_value, as_read_unit, value,
                 standard_uncertainty, censored, choice, series, times, detail) FROM STDIN"
            }
            Self::Finding => {
                "COPY finding (id, work_order_id, appliance_id, position, finding, failure_mode, mechanism, cause,
                 evidence, confirmed_by, found_at, fault_model_key, fault_key, fault_version, body_sha256, created_at)
                 FROM STDIN"
            }
            Self::FindingTestRun => "COPY finding_test_run (finding_id, test_run_id, appliance_id) FROM STDIN",
            Self::PartLine => {
                "COPY part_line (id, work_order_id, finding_id, part_id, position, quantity, state, payer, unit_price,
                 currency, promised_on, fitted_at, body_sha256, created_at) FROM STDIN"
            }
            Self::Quote => {
                "COPY quote (id, work_order_id, number, lines, total, currency, made_by, made_at, body_sha256)
                 FROM STDIN"
            }
            Self::Approval => {
                "COPY approval (id, work_order_id, quote_id, contact_id, decision, decided_at, recorded_by,
                 body_sha256, created_at) FROM STDIN"
            }
            Self::ActionTaken => {
                "COPY action_taken (id, work_order_id, position, action, part_line_id, taken_by, taken_at,
                 body_sha256, created_at) FROM STDIN"
            }
            Self::FittedPart => {
                "COPY fitted_part (id, appliance_id, position, part_id, serial, fitted_at, removed_at) FROM STDIN"
            }
            Self::InterlockDefeat => {
                "COPY interlock_defeat (id, work_order_id, opened_by, second_person, opened_at, expires_at,
                 removed_at, removed_by, body_sha256, created_at) FROM STDIN"
            }
            Self::Waiver => "COPY waiver (id, work_order_id, what, reason, given_by, given_at, body_sha256) FROM STDIN",
            Self::PartMovement => {
                "COPY part_movement (id, part_id, from_store, to_store, quantity, part_line_id, moved_at, moved_by,
                 body_sha256) FROM STDIN"
            }
            Self::FaultCountDay => {
                "COPY fault_count_day (site_id, appliance_id, position, failure_mode, day, findings) FROM STDIN"
            }
        }
    }
}

/// Rows of many tables, to be stored in one transaction.
#[derive(Debug, Default)]
pub struct Batch {
    tables: BTreeMap<Table, Vec<u8>>,
}

impl Batch {
    fn line(&mut self, table: Table) -> Line<'_> {
        Line::on(self.tables.entry(table).or_default())
    }

    /// Bytes that wait to be sent.
    pub fn size(&self) -> usize {
        self.tables.values().map(Vec::len).sum()
    }
}

/// Stores a batch in one transaction.
pub async fn store(database: &Database, batch: Batch) -> Result<(), StoreError> {
    #[expect(
        clippy::disallowed_methods,
        reason = "rows in bulk have no audit and no events to write with them"
    )]
    let mut transaction = database.pool().begin().await?;
    for (table, rows) in batch.tables {
        let mut copy = transaction.copy_in_raw(table.copy()).await?;
        if let Err(error) = copy.send(rows).await {
            copy.abort("the rows could not be sent").await?;
            return Err(error.into());
        }
        copy.finish().await?;
    }
    transaction.commit().await?;
    Ok(())
}

/// What a database holds, and the room that it takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Held {
    pub sites: i64,
    pub appliances: i64,
    pub work_orders: i64,
    pub test_runs: i64,
    pub readings: i64,
    pub findings: i64,
    pub part_lines: i64,
    pub bytes: i64,
}

/// Lets the planner know what was loaded, and counts it.
pub async fn settle(database: &Database) -> Result<Held, StoreError> {
    sqlx::query!("ANALYZE").execute(database.pool()).await?;
    let held = sqlx::query_as!(
        Held,
        r#"SELECT (SELECT count(*) FROM site) AS "sites!", (SELECT count(*) FROM appliance) AS "appliances!",
               (SELECT count(*) FROM work_order) AS "work_orders!", (SELECT count(*) FROM test_run) AS "test_runs!",
               (SELECT count(*) FROM reading) AS "readings!", (SELECT count(*) FROM finding) AS "findings!",
               (SELECT count(*) FROM part_line) AS "part_lines!", pg_database_size(current_database()) AS "bytes!""#
    )
    .fetch_one(database.pool())
    .await?;
    Ok(held)
}
