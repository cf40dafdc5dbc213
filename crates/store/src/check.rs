//! Rules between rows that no constraint of the schema keeps.

mod mend;

pub use mend::mend;

use uuid::Uuid;

use crate::error::naming_what_is_left_out;
use crate::{Database, PageRequest, ReadScope, StoreError, work_order};

/// A rule and how many rows break it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Checked {
    pub rule: &'static str,
    pub broken: i64,
    /// One of them.
    pub example: Option<String>,
    /// What makes it hold again.
    pub way_out: &'static str,
}

/// The way out of what follows from other rows.
const MEND: &str = "`ovenwright check --mend` mends it";
/// The way out of what neither the service nor an older version of it writes.
const NONE: &str = "no act mends it: restore a backup, or look who wrote round the service";
/// The way out of readings that stand where they do not belong.
const TAKE_BACK: &str = "take the run back: correct it by one that has no readings and says why";

struct Checking<'a> {
    database: &'a Database,
    told: &'a mut (dyn FnMut(&'static str) + Send),
    checked: Vec<Checked>,
}

/// Holds one rule, out of whose breach there is this way: the statement gives the ids of the rows that break it.
macro_rules! hold {
    ($checking:ident, $rule:literal, $way_out:expr, $broken:tt) => {
        ($checking.told)($rule);
        let found = sqlx::query!(
            r#"SELECT count(*) AS "broken!", min(id::text) AS example FROM ("# + $broken + ") AS broken (id)"
        )
        .fetch_one($checking.database.pool())
        .await?;
        let (broken, example) = (found.broken, found.example);
        $checking.checked.push(Checked { rule: $rule, broken, example, way_out: $way_out });
    };
}

/// Holds every rule against the whole database. `told` is called before each with its sentence.
pub async fn all(
    database: &Database,
    told: &mut (dyn FnMut(&'static str) + Send),
) -> Result<Vec<Checked>, StoreError> {
    let mut checking = Checking { database, told, checked: Vec::new() };
    checking.orders().await?;
    checking.evidence().await?;
    checking.parts().await?;
    checking.trail().await?;
    Ok(checking.checked)
}

/// At most as many rows are read at once.
const STRIDE: i64 = 1000;

/// Every row of what is written most that no reader can read, each named with its table, column and reason. Readers leave
/// such rows out.
pub async fn unreadable(database: &Database) -> Result<Vec<String>, StoreError> {
    macro_rules! walk {
        ($($of:ident),+) => {$(
            let mut after = Uuid::nil();
            while let Some(last) = crate::$of::walk(database, after, STRIDE).await?.last() {
                after = *last;
            }
        )+};
    }
    naming_what_is_left_out(async {
        walk!(visit, test_run, finding, part_line);
        let everything = ReadScope::everything();
        let mut request = PageRequest { after: None, oldest_first: true, limit: STRIDE };
        loop {
            let orders =
                work_order::list(database, &everything, &work_order::Filter::default(), &request).await?;
            let Some(next) = orders.next else { break };
            request.after = Some(next);
        }
        Ok(())
    })
    .await
}

impl Checking<'_> {
    /// What is over has nothing open, and times follow one another.
    async fn orders(&mut self) -> Result<(), StoreError> {
        hold!(
            self,
            "an order that has ended waits for nothing",
            MEND,
            "SELECT o.id FROM work_order o JOIN waiting w ON w.work_order_id = o.id
             WHERE o.closed_at IS NOT NULL AND w.to_at IS NULL"
        );
        hold!(
            self,
            "an order that has ended has nobody on site",
            "who was there tells that he left the visit",
            "SELECT o.id FROM work_order o JOIN visit v ON v.work_order_id = o.id
             WHERE o.closed_at IS NOT NULL AND v.arrived_at IS NOT NULL AND v.left_at IS NULL"
        );
        hold!(
            self,
            "an order that has ended leaves no interlock defeated",
            "who is there puts it right and tells that the defeat is removed",
            "SELECT o.id FROM work_order o JOIN interlock_defeat d ON d.work_order_id = o.id
             WHERE o.closed_at IS NOT NULL AND d.removed_at IS NULL"
        );
        hold!(
            self,
            "an order ends, and its machine is restored, after it was received",
            NONE,
            "SELECT id FROM work_order WHERE closed_at < received_at OR restored_at < received_at"
        );
        hold!(
            self,
            "a corrective order has a complaint or follows another",
            "while the order is open: tell the order's symptoms",
            "SELECT o.id FROM work_order o WHERE o.kind = 'corrective' AND o.follows_id IS NULL
                 AND NOT EXISTS (SELECT FROM symptom s WHERE s.work_order_id = o.id)"
        );
        hold!(
            self,
            "an order's machine stood in its kitchen, or has been moved since",
            "while the order is open: correct its machine",
            "SELECT o.id FROM work_order o JOIN appliance a ON a.id = o.appliance_id
             WHERE a.site_id <> o.site_id
                 AND NOT EXISTS (SELECT FROM event e WHERE e.kind = 'appliance.moved_away' AND e.subject = a.id)"
        );
        Ok(())
    }

    /// Evidence belongs to the machine and the order that it stands under.
    async fn evidence(&mut self) -> Result<(), StoreError> {
        hold!(
            self,
            "a run of an order is of the order's machine",
            TAKE_BACK,
            "SELECT t.id FROM test_run t JOIN work_order o ON o.id = t.work_order_id
             WHERE o.appliance_id <> t.appliance_id AND t.retraction_reason IS NULL
                 AND NOT EXISTS (SELECT FROM test_run s WHERE s.supersedes_id = t.id)"
        );
        hold!(
            self,
            "a run of an order whose machine is not confirmed is of a machine of its kitchen, or of one moved since",
            TAKE_BACK,
            "SELECT t.id FROM test_run t JOIN work_order o ON o.id = t.work_order_id
             JOIN appliance a ON a.id = t.appliance_id
             WHERE o.appliance_id IS NULL AND a.site_id <> o.site_id
                 AND NOT EXISTS (SELECT FROM event e WHERE e.kind = 'appliance.moved_away' AND e.subject = a.id)
                 AND t.retraction_reason IS NULL
                 AND NOT EXISTS (SELECT FROM test_run s WHERE s.supersedes_id = t.id)"
        );
        hold!(
            self,
            "who approved or signed is of the order's kitchen or of its customer",
            MEND,
            "SELECT x.id FROM (
                 SELECT a.id, a.work_order_id, a.contact_id FROM approval a
                 UNION ALL SELECT o.id, o.id, o.signed_off_by FROM work_order o
             ) AS x (id, work_order_id, contact_id)
             JOIN work_order o ON o.id = x.work_order_id JOIN site s ON s.id = o.site_id
             JOIN contact c ON c.id = x.contact_id
             WHERE c.site_id IS DISTINCT FROM s.id AND c.customer_id IS DISTINCT FROM s.customer_id"
        );
        hold!(
            self,
            "a run of a visit is of the visit's order",
            NONE,
            "SELECT t.id FROM test_run t JOIN visit v ON v.id = t.visit_id
             WHERE v.work_order_id IS DISTINCT FROM t.work_order_id"
        );
        hold!(
            self,
            "a run has readings, or says why not, or takes another back",
            TAKE_BACK,
            "SELECT t.id FROM test_run t WHERE t.retraction_reason IS NULL
                 AND coalesce(t.payload->'not_tested', '{}') IN ('{}', '[]')
                 AND NOT EXISTS (SELECT FROM reading r WHERE r.test_run_id = t.id)"
        );
        hold!(
            self,
            "a finding is of the order's machine",
            "take the finding back: correct it by one that says why",
            "SELECT f.id FROM finding f JOIN work_order o ON o.id = f.work_order_id
             WHERE o.appliance_id IS DISTINCT FROM f.appliance_id AND f.retraction_reason IS NULL
                 AND NOT EXISTS (SELECT FROM finding s WHERE s.supersedes_id = f.id)"
        );
        hold!(
            self,
            "a finding rests on runs of its machine",
            NONE,
            "SELECT f.id FROM finding f JOIN finding_test_run x ON x.finding_id = f.id
             JOIN test_run t ON t.id = x.test_run_id WHERE t.appliance_id <> f.appliance_id"
        );
        Ok(())
    }

    /// Parts, what they cost and where they are.
    async fn parts(&mut self) -> Result<(), StoreError> {
        hold!(
            self,
            "a part line's finding is of the same order",
            NONE,
            "SELECT l.id FROM part_line l JOIN finding f ON f.id = l.finding_id
             WHERE f.work_order_id <> l.work_order_id"
        );
        hold!(
            self,
            "an action's part line is of the same order",
            NONE,
            "SELECT a.id FROM action_taken a JOIN part_line l ON l.id = a.part_line_id
             WHERE l.work_order_id <> a.work_order_id"
        );
        hold!(
            self,
            "a part that a line fitted is noted at the machine",
            "note it among the machine's fitted parts",
            "SELECT l.id FROM part_line l JOIN work_order o ON o.id = l.work_order_id
             WHERE l.state = 'fitted' AND l.position IS NOT NULL AND o.appliance_id IS NOT NULL
                 AND NOT EXISTS (SELECT FROM fitted_part p WHERE p.appliance_id = o.appliance_id
                     AND p.position = l.position AND p.part_id = l.part_id AND p.fitted_at = l.fitted_at)"
        );
        hold!(
            self,
            "a part was fitted on the day that it was in its kitchen",
            MEND,
            "SELECT l.id FROM part_line l JOIN work_order o ON o.id = l.work_order_id JOIN site s ON s.id = o.site_id
             WHERE l.fitted_on IS DISTINCT FROM (l.fitted_at AT TIME ZONE s.time_zone)::date"
        );
        hold!(
            self,
            "a quote's total is the sum of its lines",
            NONE,
            "SELECT q.id FROM quote q WHERE q.total <> (
                 SELECT coalesce(sum((line->>'quantity')::numeric * (line->>'unit_price')::numeric), 0)
                 FROM jsonb_array_elements(q.lines) AS line)"
        );
        hold!(
            self,
            "a quote's lines are of the same order",
            NONE,
            "SELECT q.id FROM quote q CROSS JOIN jsonb_array_elements(q.lines) AS line
             WHERE NOT EXISTS (SELECT FROM part_line l
                 WHERE l.id = (line->>'part_line')::uuid AND l.work_order_id = q.work_order_id)"
        );
        hold!(
            self,
            "a machine's part of one position is out before the next is in",
            NONE,
            "SELECT p.appliance_id FROM (SELECT appliance_id, removed_at, lead(fitted_at)
                 OVER (PARTITION BY appliance_id, position ORDER BY fitted_at, removed_at NULLS LAST) AS next
                 FROM fitted_part) AS p
             WHERE p.next IS NOT NULL AND (p.removed_at IS NULL OR p.removed_at > p.next)"
        );
        Ok(())
    }

    /// What was entered through a use case left its mark. Rows that were loaded in bulk have the hash of
    /// nothing; months of the trail that were detached are not asked for.
    async fn trail(&mut self) -> Result<(), StoreError> {
        hold!(
            self,
            "what was entered is in the change feed",
            NONE,
            "SELECT n.id FROM (
                 SELECT id, created_at FROM call WHERE body_sha256 <> ''
                 UNION ALL SELECT id, created_at FROM work_order WHERE body_sha256 <> ''
                 UNION ALL SELECT id, created_at FROM visit WHERE body_sha256 <> ''
                 UNION ALL SELECT id, created_at FROM finding WHERE body_sha256 <> ''
                 UNION ALL SELECT id, created_at FROM part_line WHERE body_sha256 <> ''
                 UNION ALL SELECT id, created_at FROM action_taken WHERE body_sha256 <> ''
                 UNION ALL SELECT t.id, t.received_at FROM test_run t LEFT JOIN work_order o ON o.id = t.work_order_id
                     WHERE o.body_sha256 IS DISTINCT FROM ''
             ) AS n
             WHERE n.created_at >= (SELECT min(at) FROM event)
                 AND NOT EXISTS (SELECT FROM event e WHERE e.subject = n.id)"
        );
        hold!(
            self,
            "what is in the change feed is in the audit",
            NONE,
            "SELECT e.subject FROM event e WHERE e.person_id IS NULL AND NOT EXISTS (
                 SELECT FROM audit a WHERE a.at = e.at AND a.subject = e.subject)"
        );
        Ok(())
    }
}
