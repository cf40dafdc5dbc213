use application::recurring_faults::GetRecurringFaults;
use axum::extract::State;
use axum::response::Response;
use domain::id::{ApplianceId, SiteId, WorkOrderId};
use domain::repeats::counting;
use domain::text::Key;
use domain::time::Timestamp;
use domain::vocabulary::Position;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::answer;
use crate::extract::{Path, Query};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

#[derive(Debug, Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct RecurringFaultsQuery {
    /// As it stood at this moment: the windows end there. Now, unless said.
    #[param(value_type = Option<schema::Instant>, nullable = false)]
    as_of: Option<Timestamp>,
}

/// Which faults come back in a kitchen.
///
/// An occurrence is a fault that a corrective order confirmed, dated by its report. It is a repeat within D days
/// if another order verifiably restored the same fault of the same appliance at most D days before. An order for
/// a fault that was not restored since continues it, and is neither.
#[derive(Serialize, ToSchema)]
pub struct RecurringFaults {
    #[schema(value_type = schema::Instant)]
    as_of: Timestamp,
    /// By position and failure mode, the most frequent first.
    #[schema(max_items = 100_000)]
    by_fault: Vec<Recurrence>,
    /// By position alone: also sees a fault that comes back in another manner.
    #[schema(max_items = 100_000)]
    by_position: Vec<Recurrence>,
    /// Corrective orders that confirmed no fault.
    #[schema(max_items = 10)]
    no_fault: Vec<WindowCount>,
    left_out: RecurringLeftOut,
}

/// One fault of the kitchen.
#[derive(Serialize, ToSchema)]
pub struct Recurrence {
    #[schema(value_type = schema::Key)]
    position: Position,
    /// Null where all failure modes of the position are counted together.
    #[schema(value_type = Option<schema::Key>, required)]
    failure_mode: Option<Key>,
    /// A state of the building or of the use, and no fault of the machine.
    is_external: bool,
    #[schema(max_items = 10)]
    windows: Vec<WindowCount>,
}

/// The counts of one window.
#[derive(Serialize, ToSchema)]
pub struct WindowCount {
    #[schema(minimum = 1)]
    days: u16,
    #[schema(minimum = 0)]
    occurrences: u32,
    #[schema(minimum = 0)]
    repeats: u32,
    #[schema(minimum = 0)]
    continued: u32,
    /// Appliances on which it occurred.
    #[schema(minimum = 0)]
    appliances: u32,
    /// Two occurrences or more.
    recurs: bool,
    /// The orders behind the counts, oldest first.
    #[schema(value_type = Vec<schema::Id>, max_items = 100_000)]
    orders: Vec<WorkOrderId>,
    #[schema(max_items = 100_000)]
    links: Vec<OrderLink>,
}

/// An order and the earlier one that it came back on.
#[derive(Serialize, ToSchema)]
pub struct OrderLink {
    #[schema(value_type = schema::Id)]
    earlier_work_order_id: WorkOrderId,
    #[schema(value_type = schema::Id)]
    later_work_order_id: WorkOrderId,
    #[schema(value_type = schema::Id)]
    appliance_id: ApplianceId,
    /// From the verified restoration to the next report; null if the earlier order restored nothing.
    #[schema(required)]
    days_between: Option<f64>,
}

/// What is in no count, and why.
#[derive(Serialize, ToSchema)]
pub struct RecurringLeftOut {
    #[schema(minimum = 0)]
    planned: u32,
    #[schema(minimum = 0)]
    installation: u32,
    /// Further findings of a fault that its order had confirmed already.
    #[schema(minimum = 0)]
    same_order: u32,
    /// Orders restored before they were reported: their times want correcting.
    #[schema(value_type = Vec<schema::Id>, max_items = 100_000)]
    times_out_of_order: Vec<WorkOrderId>,
}

/// Which faults recur in this kitchen?
#[utoipa::path(get, path = "/v1/sites/{id}/recurring-faults", tag = "reports",
    params(("id" = schema::Id, Path), RecurringFaultsQuery),
    responses((status = 200, description = "Counts for 7, 30, 90 and 365 days", body = RecurringFaults)))]
pub async fn get_site_recurring_faults(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<SiteId>,
    Query(query): Query<RecurringFaultsQuery>,
) -> Result<Response, Problem> {
    let question = GetRecurringFaults { site: id, as_of: query.as_of };
    answer::json(&RecurringFaults::from(state.application.ask(&caller, question).await?))
}

impl From<counting::RecurringFaults> for RecurringFaults {
    fn from(faults: counting::RecurringFaults) -> Self {
        Self {
            as_of: faults.as_of,
            by_fault: faults.by_fault.into_iter().map(Into::into).collect(),
            by_position: faults.by_position.into_iter().map(Into::into).collect(),
            no_fault: faults.no_fault.into_iter().map(Into::into).collect(),
            left_out: RecurringLeftOut {
                planned: faults.left_out.planned,
                installation: faults.left_out.installation,
                same_order: faults.left_out.same_order,
                times_out_of_order: faults.left_out.times_out_of_order.into_iter().collect(),
            },
        }
    }
}

impl From<counting::Recurrence> for Recurrence {
    fn from(recurrence: counting::Recurrence) -> Self {
        Self {
            position: recurrence.position,
            failure_mode: recurrence.failure_mode,
            is_external: recurrence.position.is_external(),
            windows: recurrence.windows.into_iter().map(Into::into).collect(),
        }
    }
}

impl From<counting::WindowCount> for WindowCount {
    fn from(count: counting::WindowCount) -> Self {
        let links = count.links.into_iter().map(|link| OrderLink {
            earlier_work_order_id: link.earlier,
            later_work_order_id: link.later,
            appliance_id: link.appliance,
            days_between: link.days_between,
        });
        Self {
            days: count.days,
            occurrences: count.occurrences,
            repeats: count.repeats,
            continued: count.continued,
            appliances: count.appliances,
            recurs: count.recurs,
            orders: count.orders,
            links: links.collect(),
        }
    }
}
