//! Everything that ever happened to a machine.

use chrono::{DateTime, Utc};
use domain::id::{ApplianceId, WorkOrderId};
use domain::text::Key;
use domain::time::Timestamp;
use serde_json::Value;
use uuid::Uuid;

use crate::error::{stored, stored_option};
use crate::{Database, Page, PageRequest, Position, ReadScope, StoreError, appliance};

/// One thing that happened.
#[derive(Debug, Clone)]
pub struct HistoryEntry {
    /// `order_received`, `order_ended`, `visit`, `test_run`, `finding`, `action_taken`, `part_fitted`, `part_noted`.
    pub kind: String,
    pub id: Uuid,
    pub at: Timestamp,
    pub work_order: Option<WorkOrderId>,
    /// The positions that it speaks of.
    pub positions: Vec<Key>,
    pub detail: Value,
}

struct Row {
    kind: String,
    id: Uuid,
    at: DateTime<Utc>,
    work_order_id: Option<Uuid>,
    positions: Vec<String>,
    detail: Value,
}

/// A page of a machine's history up to `as_of`, newest first; `None` where the scope does not show it.
/// Of a position: what speaks of that position; the orders and visits that frame it are left out.
#[expect(clippy::too_many_lines, reason = "one statement: nine kinds of entry, chosen and then told")]
pub async fn of_appliance(
    database: &Database,
    scope: &ReadScope,
    id: ApplianceId,
    position: Option<&Key>,
    as_of: Timestamp,
    request: &PageRequest,
) -> Result<Option<Page<HistoryEntry>>, StoreError> {
    if appliance::find(database, scope, id).await?.is_none() {
        return Ok(None);
    }
    let rows = sqlx::query_as!(
        Row,
        r#"WITH entry AS (
               SELECT kind, id, at, work_order_id FROM (
                   SELECT 'order_received' AS kind, o.id, o.received_at AS at, o.id AS work_order_id
                   FROM work_order o WHERE o.appliance_id = $1 AND $3::text IS NULL
                   UNION ALL
                   SELECT 'order_ended', o.id, o.closed_at, o.id
                   FROM work_order o WHERE o.appliance_id = $1 AND o.closed_at IS NOT NULL AND $3 IS NULL
                   UNION ALL
                   SELECT 'visit', v.id, coalesce(v.arrived_at, v.missed_at, v.planned_at), o.id
                   FROM visit v JOIN work_order o ON o.id = v.work_order_id WHERE o.appliance_id = $1 AND $3 IS NULL
                   UNION ALL
                   SELECT 'test_run', t.id, t.taken_at + make_interval(secs => t.clock_correction / 1e6), t.work_order_id
                   FROM test_run t WHERE t.appliance_id = $1 AND ($3 IS NULL OR EXISTS (SELECT FROM procedure
                       WHERE procedure.key = t.procedure_key AND procedure.version = t.procedure_version
                           AND procedure.payload -> 'positions' ? $3))
                   UNION ALL
                   SELECT 'finding', f.id, f.found_at, f.work_order_id
                   FROM finding f WHERE f.appliance_id = $1 AND ($3 IS NULL OR f.position = $3)
                   UNION ALL
                   SELECT 'action_taken', a.id, a.taken_at, a.work_order_id
                   FROM action_taken a JOIN work_order o ON o.id = a.work_order_id
                   WHERE o.appliance_id = $1 AND ($3 IS NULL OR a.position = $3)
                   UNION ALL
                   SELECT 'part_fitted', l.id, l.fitted_at, l.work_order_id
                   FROM part_line l JOIN work_order o ON o.id = l.work_order_id
                   WHERE o.appliance_id = $1 AND l.fitted_at IS NOT NULL AND ($3 IS NULL OR l.position = $3)
                   UNION ALL
                   SELECT 'machine_corrected', m.id, m.corrected_at, m.work_order_id
                   FROM machine_correction m
                   WHERE (m.from_appliance = $1 OR m.to_appliance = $1) AND $3 IS NULL
                   UNION ALL
                   -- parts that were noted without an order
                   SELECT 'part_noted', f.id, f.fitted_at, NULL
                   FROM fitted_part f
                   WHERE f.appliance_id = $1 AND ($3 IS NULL OR f.position = $3) AND NOT EXISTS (SELECT FROM part_line l
                       JOIN work_order o ON o.id = l.work_order_id WHERE o.appliance_id = $1
                           AND l.part_id = f.part_id AND l.position = f.position AND l.fitted_at = f.fitted_at)
               ) happened
               WHERE at <= $2 AND ($4::timestamptz IS NULL OR (at, id) < ($4, $5::uuid))
               ORDER BY at DESC, id DESC LIMIT $6)
           -- What is told of each is put together for those alone that are on the page.
           SELECT entry.kind AS "kind!", entry.id AS "id!", entry.at AS "at!", entry.work_order_id,
               told.positions AS "positions!", told.detail AS "detail!"
           FROM entry CROSS JOIN LATERAL (
               SELECT '{}'::text[] AS positions, jsonb_build_object('number', o.number, 'kind', o.kind,
                   'urgency', o.urgency, 'call_id', o.call_id, 'words', call.words,
                   'symptoms', coalesce((SELECT jsonb_agg(code ORDER BY place, code) FROM symptom
                       WHERE symptom.work_order_id = o.id), '[]')) AS detail
               FROM work_order o LEFT JOIN call ON call.id = o.call_id
               WHERE entry.kind = 'order_received' AND o.id = entry.id
               UNION ALL
               SELECT '{}', jsonb_build_object('number', o.number, 'outcome', o.outcome, 'restored_at', o.restored_at)
               FROM work_order o WHERE entry.kind = 'order_ended' AND o.id = entry.id
               UNION ALL
               SELECT '{}', jsonb_build_object('planned_at', v.planned_at, 'arrived_at', v.arrived_at,
                   'left_at', v.left_at, 'missed_at', v.missed_at, 'result', v.result,
                   'people', coalesce((SELECT jsonb_agg(person.name ORDER BY person.name) FROM visit_person
                       JOIN person ON person.id = visit_person.person_id
                       WHERE visit_person.visit_id = v.id), '[]'))
               FROM visit v WHERE entry.kind = 'visit' AND v.id = entry.id
               UNION ALL
               SELECT ARRAY(SELECT jsonb_array_elements_text(procedure.payload -> 'positions')),
                   jsonb_build_object('procedure', t.procedure_key, 'version', t.procedure_version,
                       'phase', t.phase, 'superseded', EXISTS (SELECT FROM test_run s WHERE s.supersedes_id = t.id),
                       'retracted', t.retraction_reason IS NOT NULL,
                       'readings', coalesce((SELECT jsonb_agg(jsonb_strip_nulls(jsonb_build_object('step', step,
                           'as_read', as_read, 'unit', as_read_unit, 'choice', choice)) ORDER BY step)
                           FROM reading WHERE reading.test_run_id = t.id), '[]'))
               FROM test_run t
                   JOIN procedure ON procedure.key = t.procedure_key AND procedure.version = t.procedure_version
               WHERE entry.kind = 'test_run' AND t.id = entry.id
               UNION ALL
               SELECT ARRAY[f.position], jsonb_strip_nulls(jsonb_build_object('finding', f.finding,
                   'failure_mode', f.failure_mode, 'mechanism', f.mechanism, 'cause', f.cause, 'fault', f.fault_key,
                   'evidence', f.evidence, 'note', f.note,
                   'superseded', EXISTS (SELECT FROM finding s WHERE s.supersedes_id = f.id),
                   'retracted', f.retraction_reason IS NOT NULL))
               FROM finding f WHERE entry.kind = 'finding' AND f.id = entry.id
               UNION ALL
               SELECT ARRAY[a.position], jsonb_strip_nulls(jsonb_build_object('action', a.action,
                   'expires_at', a.expires_at, 'part_number', part.number))
               FROM action_taken a LEFT JOIN part_line l ON l.id = a.part_line_id LEFT JOIN part ON part.id = l.part_id
               WHERE entry.kind = 'action_taken' AND a.id = entry.id
               UNION ALL
               SELECT array_remove(ARRAY[l.position], NULL), jsonb_build_object('part_number', part.number,
                   'title', part.title, 'quantity', l.quantity, 'payer', l.payer, 'state', l.state)
               FROM part_line l JOIN part ON part.id = l.part_id WHERE entry.kind = 'part_fitted' AND l.id = entry.id
               UNION ALL
               SELECT '{}', jsonb_build_object('number', o.number, 'from_appliance_id', m.from_appliance,
                   'to_appliance_id', m.to_appliance, 'why', m.why, 'corrected_by', person.name)
               FROM machine_correction m JOIN work_order o ON o.id = m.work_order_id
                   JOIN person ON person.id = m.corrected_by
               WHERE entry.kind = 'machine_corrected' AND m.id = entry.id
               UNION ALL
               SELECT ARRAY[f.position], jsonb_build_object('part_number', part.number, 'title', part.title,
                   'serial', f.serial, 'removed_at', f.removed_at)
               FROM fitted_part f JOIN part ON part.id = f.part_id
               WHERE entry.kind = 'part_noted' AND f.id = entry.id
           ) told ORDER BY entry.at DESC, entry.id DESC"#,
        id.uuid(),
        as_of.instant(),
        position.map(Key::as_str),
        request.after_time(),
        request.after_id(),
        request.fetch()
    )
    .fetch_all(database.pool())
    .await?;
    let items = rows.into_iter().map(HistoryEntry::try_from);
    Ok(Some(
        request.page(items, |entry: &HistoryEntry| Position { created_at: entry.at.instant(), id: entry.id }),
    ))
}

impl TryFrom<Row> for HistoryEntry {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let id = row.id;
        Ok(Self {
            kind: row.kind,
            id,
            at: stored(row.at, "history", "at", id)?,
            work_order: stored_option(row.work_order_id, "history", "work_order_id", id)?,
            positions: row
                .positions
                .into_iter()
                .map(|position| stored(position, "history", "positions", id))
                .collect::<Result<_, _>>()?,
            detail: row.detail,
        })
    }
}
