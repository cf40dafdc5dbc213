//! What is open now, in three statements: the orders with all that decides who must act, the machines that may not be used,
//! and the branches.

use chrono::{DateTime, Utc};
use domain::danger::Danger;
use domain::id::{ApplianceId, BranchId, SiteId, WorkOrderId};
use domain::text::Key;
use domain::time::Timestamp;
use domain::work::{
    ApplianceState, OrderKind, OrderState, PartLineState, Urgency, VisitTimes, WaitingReason,
};
use serde::Deserialize;
use uuid::Uuid;

use crate::error::{Readable, stored, stored_json, stored_list, stored_option};
use crate::search::containing;
use crate::{Database, StoreError};

/// Which open orders are wanted.
#[derive(Debug, Clone, Default)]
pub struct Filter {
    pub branch: Option<BranchId>,
    /// Of the kitchen's name or place, of the machine's place in it, of a person sent; the order's number.
    pub words: Option<String>,
    pub site: Option<SiteId>,
    pub appliance: Option<ApplianceId>,
}

/// An order that has not ended, with what decides who must act.
#[derive(Debug, Clone)]
pub struct OpenOrder {
    pub id: WorkOrderId,
    pub number: i64,
    pub version: i64,
    pub kind: OrderKind,
    pub urgency: Urgency,
    pub state: OrderState,
    pub received_at: Timestamp,
    /// The first is the complaint.
    pub symptoms: Vec<Key>,
    pub site: SiteId,
    pub site_name: String,
    pub time_zone: String,
    pub branch_name: Option<String>,
    pub appliance: Option<ApplianceId>,
    /// Where in the kitchen it stands.
    pub position_label: Option<String>,
    pub appliance_state: Option<ApplianceState>,
    /// Ended ones too, in the order in which they began.
    pub waits: Vec<Wait>,
    /// The visit that is not over, and who is sent.
    pub visit: Option<VisitTimes>,
    pub people: Vec<String>,
    /// When somebody first stood there.
    pub first_arrival: Option<Timestamp>,
    pub part_lines: Vec<PartLineState>,
    /// The latest day that a supplier promised for a part that is still to come.
    pub promised_on: Option<chrono::NaiveDate>,
    pub quote: Option<LastQuote>,
    /// When the customer is to be rung back, soonest.
    pub ring_back_at: Option<Timestamp>,
}

/// Something that the order waits or waited for.
#[derive(Debug, Clone, Copy)]
pub struct Wait {
    pub reason: WaitingReason,
    pub from_at: Timestamp,
    pub to_at: Option<Timestamp>,
    pub pauses_clock: bool,
}

/// The newest quote of an order.
#[derive(Debug, Clone)]
pub struct LastQuote {
    pub number: i32,
    pub total: String,
    pub currency: String,
    pub made_at: Timestamp,
    pub is_decided: bool,
}

/// A machine that may not be used.
#[derive(Debug, Clone)]
pub struct StoppedMachine {
    pub appliance: ApplianceId,
    pub position_label: String,
    pub site: SiteId,
    pub site_name: String,
    pub dangers: Vec<Danger>,
    pub why: String,
    pub stopped_at: Timestamp,
}

/// At most so many orders are shown, the most urgent first.
pub const SHOWN: i64 = 300;

#[derive(Deserialize)]
struct StoredWait {
    reason: String,
    from_at: DateTime<Utc>,
    to_at: Option<DateTime<Utc>>,
    pauses_clock: bool,
}

/// The open orders that are wanted, and how many there are in all.
pub async fn open_orders(database: &Database, filter: &Filter) -> Result<(Vec<OpenOrder>, i64), StoreError> {
    let rows = sqlx::query!(
        r#"WITH wanted AS (
               SELECT o.id, count(*) OVER () AS of_all,
                   array_position(ARRAY['danger', 'key_unit_down', 'degraded', 'planned'], o.urgency) AS rank
               FROM work_order o JOIN site ON site.id = o.site_id LEFT JOIN appliance a ON a.id = o.appliance_id
               WHERE o.state NOT IN ('closed', 'cancelled') AND ($1::uuid IS NULL OR site.branch_id = $1)
                   AND ($2::text IS NULL OR lower(site.name) LIKE lower($2)
                       OR lower(site.place) LIKE lower($2) OR lower(a.position_label) LIKE lower($2)
                       OR o.number::text = $6 OR EXISTS (
                           SELECT FROM visit JOIN visit_person ON visit_person.visit_id = visit.id
                           JOIN person ON person.id = visit_person.person_id
                           WHERE visit.work_order_id = o.id AND lower(person.name) LIKE lower($2)))
                   AND ($4::uuid IS NULL OR o.site_id = $4) AND ($5::uuid IS NULL OR o.appliance_id = $5)
               ORDER BY rank, o.received_at, o.id LIMIT $3)
           SELECT o.id, o.number, o.version, o.kind, o.urgency, o.state, o.received_at,
               ARRAY(SELECT code FROM symptom WHERE symptom.work_order_id = o.id ORDER BY place, code) AS "symptoms!",
               site.id AS site_id, site.name AS site_name, site.time_zone, branch.name AS "branch_name?",
               a.id AS "appliance_id?", a.position_label AS "position_label?", a.state AS "appliance_state?",
               (SELECT jsonb_agg(jsonb_build_object('reason', reason, 'from_at', from_at, 'to_at', to_at,
                       'pauses_clock', pauses_clock) ORDER BY from_at, w.id)
                   FROM waiting w WHERE w.work_order_id = o.id) AS waits,
               v.planned_at AS "planned_at?", v.set_out_at AS "set_out_at?", v.arrived_at AS "arrived_at?",
               ARRAY(SELECT person.name FROM visit_person JOIN person ON person.id = visit_person.person_id
                   WHERE visit_person.visit_id = v.id ORDER BY person.name) AS "people!",
               (SELECT min(arrived_at) FROM visit WHERE work_order_id = o.id) AS first_arrival,
               ARRAY(SELECT state FROM part_line WHERE work_order_id = o.id ORDER BY id) AS "part_lines!",
               (SELECT max(promised_on) FROM part_line WHERE work_order_id = o.id AND state = 'promised') AS promised_on,
               q.number AS "quote_number?", q.total AS "quote_total?", q.currency AS "quote_currency?",
               q.made_at AS "quote_made_at?", q.is_decided AS "quote_is_decided?", wanted.of_all AS "of_all!",
               (SELECT min(n.ring_back_at) FROM note n WHERE n.work_order_id = o.id
                   AND NOT EXISTS (SELECT FROM note later WHERE later.settles = n.id)) AS ring_back_at
           FROM wanted JOIN work_order o USING (id)
           JOIN site ON site.id = o.site_id LEFT JOIN branch ON branch.id = site.branch_id
           LEFT JOIN appliance a ON a.id = o.appliance_id
           LEFT JOIN LATERAL (SELECT id, planned_at, set_out_at, arrived_at FROM visit
               WHERE work_order_id = o.id AND left_at IS NULL AND missed_at IS NULL AND called_off_at IS NULL
               ORDER BY planned_at, id LIMIT 1) v ON true
           LEFT JOIN LATERAL (SELECT number, total::text AS total, currency, made_at,
                   EXISTS (SELECT FROM approval WHERE approval.quote_id = quote.id) AS is_decided
               FROM quote WHERE work_order_id = o.id ORDER BY number DESC LIMIT 1) q ON true
           ORDER BY wanted.rank, o.received_at, o.id"#,
        filter.branch.map(BranchId::uuid),
        filter.words.as_deref().map(containing),
        SHOWN,
        filter.site.map(SiteId::uuid),
        filter.appliance.map(ApplianceId::uuid),
        filter.words.as_deref().map(|words| words.trim_start_matches('#')),
    )
    .fetch_all(database.planned_for_each_use())
    .await?;
    let of_all = rows.first().map_or(0, |row| row.of_all);
    let orders = rows.into_iter().map(|row| {
        let id = row.id;
        let visit = match row.planned_at {
            None => None,
            Some(planned_at) => Some(VisitTimes {
                set_out_at: stored_option(row.set_out_at, "visit", "set_out_at", id)?,
                arrived_at: stored_option(row.arrived_at, "visit", "arrived_at", id)?,
                ..VisitTimes::planned(stored(planned_at, "visit", "planned_at", id)?)
            }),
        };
        let quote = match (row.quote_number, row.quote_total, row.quote_currency, row.quote_made_at) {
            (Some(number), Some(total), Some(currency), Some(made_at)) => Some(LastQuote {
                number,
                total,
                currency,
                made_at: stored(made_at, "quote", "made_at", id)?,
                is_decided: row.quote_is_decided.unwrap_or_default(),
            }),
            _ => None,
        };
        Ok(OpenOrder {
            id: stored(row.id, "work_order", "id", id)?,
            number: row.number,
            version: row.version,
            kind: stored(row.kind, "work_order", "kind", id)?,
            urgency: stored(row.urgency, "work_order", "urgency", id)?,
            state: stored(row.state, "work_order", "state", id)?,
            received_at: stored(row.received_at, "work_order", "received_at", id)?,
            symptoms: stored_list(row.symptoms, "symptom", "code", id)?,
            site: stored(row.site_id, "work_order", "site_id", id)?,
            site_name: row.site_name,
            time_zone: row.time_zone,
            branch_name: row.branch_name,
            appliance: stored_option(row.appliance_id, "work_order", "appliance_id", id)?,
            position_label: row.position_label,
            appliance_state: stored_option(row.appliance_state, "appliance", "state", id)?,
            waits: waits_of(row.waits, id)?,
            visit,
            people: row.people,
            first_arrival: stored_option(row.first_arrival, "visit", "arrived_at", id)?,
            part_lines: stored_list(row.part_lines, "part_line", "state", id)?,
            promised_on: row.promised_on,
            quote,
            ring_back_at: stored_option(row.ring_back_at, "note", "ring_back_at", id)?,
        })
    });
    Ok((orders.readable()?, of_all))
}

fn waits_of(waits: Option<serde_json::Value>, order: Uuid) -> Result<Vec<Wait>, StoreError> {
    let waits: Option<Vec<StoredWait>> =
        waits.map(|waits| stored_json(waits, "waiting", "work_order_id", order)).transpose()?;
    let waits = waits.unwrap_or_default().into_iter().map(|wait| {
        Ok(Wait {
            reason: stored(wait.reason, "waiting", "reason", order)?,
            from_at: stored(wait.from_at, "waiting", "from_at", order)?,
            to_at: stored_option(wait.to_at, "waiting", "to_at", order)?,
            pauses_clock: wait.pauses_clock,
        })
    });
    waits.collect()
}

/// The machines that may not be used, longest first.
pub async fn stopped_machines(
    database: &Database,
    branch: Option<BranchId>,
) -> Result<Vec<StoppedMachine>, StoreError> {
    sqlx::query!(
        "SELECT DISTINCT ON (stop.stopped_at, a.id) a.id, a.position_label, site.id AS site_id, site.name AS site_name,
             stop.dangers, stop.why, stop.stopped_at
         FROM stop JOIN appliance a ON a.id = stop.appliance_id JOIN site ON site.id = a.site_id
         WHERE stop.released_at IS NULL AND a.state <> 'removed' AND ($1::uuid IS NULL OR site.branch_id = $1)
         ORDER BY stop.stopped_at, a.id LIMIT $2",
        branch.map(BranchId::uuid),
        SHOWN,
    )
    .fetch_all(database.pool())
    .await?
    .into_iter()
    .map(|row| {
        let id = row.id;
        Ok(StoppedMachine {
            appliance: stored(row.id, "appliance", "id", id)?,
            position_label: row.position_label,
            site: stored(row.site_id, "appliance", "site_id", id)?,
            site_name: row.site_name,
            dangers: stored_list(row.dangers, "stop", "dangers", id)?,
            why: row.why,
            stopped_at: stored(row.stopped_at, "stop", "stopped_at", id)?,
        })
    })
    .readable()
}

/// The branches by name.
pub async fn branches(database: &Database) -> Result<Vec<(BranchId, String)>, StoreError> {
    sqlx::query!("SELECT id, name FROM branch ORDER BY name LIMIT 200")
        .fetch_all(database.pool())
        .await?
        .into_iter()
        .map(|row| Ok((stored(row.id, "branch", "id", row.id)?, row.name)))
        .readable()
}
