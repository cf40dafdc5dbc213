use domain::id::{ApplianceId, CallId, PersonId, SiteId, WorkOrderId};
use domain::time::Timestamp;
use domain::work::{OrderKind, OrderState, Outcome};

use super::{Row, WorkOrder, orders};
use crate::error::Readable;
use crate::page::list;
use crate::{Database, Page, PageRequest, Position, ReadScope, StoreError, UnitOfWork};

/// Which orders a list is of.
#[derive(Debug, Clone, Default)]
pub struct Filter {
    pub site: Option<SiteId>,
    pub appliance: Option<ApplianceId>,
    pub call: Option<CallId>,
    pub follows: Option<WorkOrderId>,
    /// Sent to it by a visit.
    pub person: Option<PersonId>,
    pub state: Option<OrderState>,
    pub kind: Option<OrderKind>,
    pub outcome: Option<Outcome>,
    /// Not yet ended, or ended.
    pub open: Option<bool>,
}

pub async fn find(
    database: &Database,
    scope: &ReadScope,
    id: WorkOrderId,
) -> Result<Option<WorkOrder>, StoreError> {
    let mut orders = orders!(
        database.pool(),
        "id = $1 AND ($2::uuid IS NULL OR EXISTS (
             SELECT FROM assignment WHERE assignment.person_id = $2 AND assignment.work_order_id = work_order.id))",
        id.uuid(),
        scope.person(),
    );
    Ok(orders.pop())
}

pub async fn list(
    database: &Database,
    scope: &ReadScope,
    filter: &Filter,
    request: &PageRequest,
) -> Result<Page<WorkOrder>, StoreError> {
    // A person's orders are found first, by their ids: they are few, whatever the company has.
    let rows = list!(
        Row,
        request,
        database.planned_for_each_use(),
        r#"SELECT id, number, call_id, site_id, appliance_id, kind, urgency, state, outcome, restored_at, closed_at,
               proof_doubted_at, follows_id, spending_limit, spending_currency, signed_off_by,
               ARRAY(SELECT code FROM symptom WHERE symptom.work_order_id = work_order.id
                   ORDER BY place, code)
                   AS "symptoms!",
               EXISTS (SELECT FROM work_order AS later WHERE later.follows_id = work_order.id) AS "is_followed!",
               received_at, version, created_at
           FROM work_order
           WHERE ($1::uuid IS NULL OR id = ANY (ARRAY(SELECT work_order_id FROM assignment
                   WHERE assignment.person_id = $1)))
             AND ($2::uuid IS NULL OR site_id = $2)
             AND ($3::uuid IS NULL OR appliance_id = $3)
             AND ($4::uuid IS NULL OR call_id = $4)
             AND ($5::uuid IS NULL OR follows_id = $5)
             AND ($6::uuid IS NULL OR id = ANY (ARRAY(SELECT work_order_id FROM assignment
                   WHERE assignment.person_id = $6)))
             AND ($7::text IS NULL OR state = $7)
             AND ($8::text IS NULL OR kind = $8)
             AND ($9::text IS NULL OR outcome = $9)
             AND ($10::bool IS NULL OR (state NOT IN ('closed', 'cancelled')) = $10)"#,
        ["$11", "$12", "$13"],
        scope.person(),
        filter.site.map(SiteId::uuid),
        filter.appliance.map(ApplianceId::uuid),
        filter.call.map(CallId::uuid),
        filter.follows.map(WorkOrderId::uuid),
        filter.person.map(PersonId::uuid),
        filter.state.map(OrderState::word),
        filter.kind.map(OrderKind::word),
        filter.outcome.map(Outcome::word),
        filter.open,
    );
    let items = rows.into_iter().map(WorkOrder::try_from);
    Ok(request.page(items, |order: &WorkOrder| Position {
        created_at: order.created_at.instant(),
        id: order.id.uuid(),
    }))
}

/// The orders that a call opened, in the order of their numbers.
pub async fn of_call(unit: &mut UnitOfWork, call: CallId) -> Result<Vec<WorkOrder>, StoreError> {
    Ok(orders!(unit.connection(), "call_id = $1 ORDER BY number", call.uuid()))
}

/// As many earlier orders as are shown at intake.
const SHOWN: i64 = 50;

/// The orders of an appliance that are open, or were received since `since`, newest first.
pub async fn of_appliance(
    unit: &mut UnitOfWork,
    appliance: ApplianceId,
    since: Timestamp,
) -> Result<Vec<WorkOrder>, StoreError> {
    Ok(orders!(
        unit.connection(),
        "appliance_id = $1 AND (state NOT IN ('closed', 'cancelled') OR received_at >= $2 OR closed_at >= $2)
         ORDER BY received_at DESC, id DESC LIMIT $3",
        appliance.uuid(),
        since.instant(),
        SHOWN,
    ))
}

/// The open orders of a site, newest first.
pub async fn open_at_site(unit: &mut UnitOfWork, site: SiteId) -> Result<Vec<WorkOrder>, StoreError> {
    Ok(orders!(
        unit.connection(),
        "site_id = $1 AND state NOT IN ('closed', 'cancelled') ORDER BY received_at DESC, id DESC LIMIT $2",
        site.uuid(),
        SHOWN,
    ))
}

/// Which order people call by this number; none if the scope does not show it.
pub async fn of_number(
    database: &Database,
    scope: &ReadScope,
    number: i64,
) -> Result<Option<WorkOrder>, StoreError> {
    let mut orders = orders!(
        database.pool(),
        "number = $1 AND ($2::uuid IS NULL OR EXISTS (
             SELECT FROM assignment WHERE assignment.person_id = $2 AND assignment.work_order_id = work_order.id))",
        number,
        scope.person(),
    );
    Ok(orders.pop())
}

/// The orders at a kitchen, newest first.
pub async fn at_site(database: &Database, site: SiteId) -> Result<Vec<WorkOrder>, StoreError> {
    Ok(orders!(
        database.pool(),
        "site_id = $1 ORDER BY received_at DESC, id DESC LIMIT $2",
        site.uuid(),
        SHOWN
    ))
}
