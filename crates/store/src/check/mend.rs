//! What contradicts other rows and follows from them is made what they say.

use domain::id::{ApplianceId, SiteId, WorkOrderId};
use uuid::Uuid;

use crate::error::{stored, stored_option};
use crate::{Change, StoreError, UnitOfWork};

/// Where a mended row belongs.
struct Row {
    id: Uuid,
    work_order_id: Uuid,
    site_id: Uuid,
    appliance_id: Option<Uuid>,
    /// Who was named and had no say.
    contact_id: Option<Uuid>,
}

impl Row {
    fn change(&self, kind: &'static str) -> Result<Change, StoreError> {
        let (id, order) = (self.id, self.work_order_id);
        let site: SiteId = stored(self.site_id, "work_order", "site_id", order)?;
        let appliance: Option<ApplianceId> =
            stored_option(self.appliance_id, "work_order", "appliance_id", order)?;
        let order: WorkOrderId = stored(order, "work_order", "id", order)?;
        let change = Change::of(kind, id).at_site(site).on_appliance(appliance).on_order(Some(order));
        Ok(match self.contact_id {
            Some(contact) => change
                .fields(vec!["contact_id"])
                .because(format!("contact {contact} is neither of the order's kitchen nor of its customer")),
            None => change.fields(vec!["to_at"]).because("the order had ended"),
        })
    }
}

/// Puts the days right on which parts were fitted, ends what ended orders wait for, and undoes approvals' and sign-offs' links to contacts of other customers, each with its
/// mark in feed and audit; returns how many rows were mended.
pub async fn mend(unit: &mut UnitOfWork) -> Result<usize, StoreError> {
    let waiting = sqlx::query_as!(
        Row,
        r#"UPDATE waiting w SET to_at = greatest(w.from_at, o.closed_at), version = w.version + 1
           FROM work_order o WHERE o.id = w.work_order_id AND o.closed_at IS NOT NULL AND w.to_at IS NULL
           RETURNING w.id, w.work_order_id, o.site_id, o.appliance_id, NULL::uuid AS contact_id"#
    )
    .fetch_all(unit.connection())
    .await?;
    let signed_off = sqlx::query_as!(
        Row,
        r#"UPDATE work_order o SET signed_off_by = NULL, version = o.version + 1 FROM site s, contact c
           WHERE s.id = o.site_id AND c.id = o.signed_off_by
               AND c.site_id IS DISTINCT FROM s.id AND c.customer_id IS DISTINCT FROM s.customer_id
           RETURNING o.id, o.id AS work_order_id, o.site_id, o.appliance_id, c.id AS "contact_id?""#
    )
    .fetch_all(unit.connection())
    .await?;
    // Approvals are kept as they came; that a stranger gave one was never true.
    sqlx::query!("ALTER TABLE approval DISABLE TRIGGER insert_only").execute(unit.connection()).await?;
    let approved = sqlx::query_as!(
        Row,
        r#"UPDATE approval a SET contact_id = NULL FROM work_order o, site s, contact c
           WHERE o.id = a.work_order_id AND s.id = o.site_id AND c.id = a.contact_id
               AND c.site_id IS DISTINCT FROM s.id AND c.customer_id IS DISTINCT FROM s.customer_id
           RETURNING a.id, a.work_order_id, o.site_id, o.appliance_id, c.id AS "contact_id?""#
    )
    .fetch_all(unit.connection())
    .await?;
    sqlx::query!("ALTER TABLE approval ENABLE TRIGGER insert_only").execute(unit.connection()).await?;
    // Nobody reads it as such: it has no mark.
    let days = sqlx::query!(
        "UPDATE part_line l SET fitted_on = (l.fitted_at AT TIME ZONE s.time_zone)::date
         FROM work_order o JOIN site s ON s.id = o.site_id
         WHERE o.id = l.work_order_id AND l.fitted_on IS DISTINCT FROM (l.fitted_at AT TIME ZONE s.time_zone)::date"
    )
    .execute(unit.connection())
    .await?;
    let mut mended = days.rows_affected() as usize;
    let kinds = [
        ("waiting.ended", waiting),
        ("work_order.sign_off_withdrawn", signed_off),
        ("approval.contact_withdrawn", approved),
    ];
    for (kind, rows) in kinds {
        for row in rows {
            unit.record(row.change(kind)?);
            mended += 1;
        }
    }
    Ok(mended)
}
