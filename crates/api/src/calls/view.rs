use application::call::{EarlierOrders, Intake};
use domain::id::{CallId, ContactId, PersonId, SiteId, WorkOrderId};
use domain::text::{Key, Words};
use domain::time::Timestamp;
use domain::work::{Danger, Precaution, RepeatCall, Urgency};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::schema;
use crate::work_orders::WorkOrder;

/// A question asked on the telephone, and what was said to it.
#[derive(Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct TriageAnswer {
    #[schema(value_type = schema::Key)]
    pub question: Key,
    #[schema(value_type = schema::Words)]
    pub answer: Words,
}

/// What a customer said.
#[derive(Serialize, ToSchema)]
pub struct Call {
    #[schema(value_type = schema::Id)]
    id: CallId,
    #[schema(value_type = schema::Id)]
    site_id: SiteId,
    #[schema(value_type = Option<schema::Id>, required)]
    contact_id: Option<ContactId>,
    /// In the caller's own words.
    #[schema(value_type = schema::Words)]
    words: Words,
    #[schema(value_type = schema::UrgencyWord)]
    urgency: Urgency,
    #[schema(value_type = Vec<schema::DangerWord>, max_items = 6)]
    dangers: Vec<Danger>,
    /// The caller was told not to use the machine.
    stop_use: bool,
    /// Why a machine with a danger may stay in use.
    #[schema(value_type = Option<schema::Words>, required)]
    continued_use_reason: Option<Words>,
    #[schema(max_items = 50)]
    answers: Vec<TriageAnswer>,
    #[schema(value_type = schema::Id)]
    taken_by: PersonId,
    #[schema(value_type = schema::Instant)]
    received_at: Timestamp,
    #[schema(value_type = schema::Instant)]
    created_at: Timestamp,
}

impl From<application::call::Call> for Call {
    fn from(call: application::call::Call) -> Self {
        let answers = call.answers.into_iter();
        Self {
            id: call.id,
            site_id: call.site,
            contact_id: call.contact,
            words: call.words,
            urgency: call.urgency,
            dangers: call.dangers,
            stop_use: call.stop_use,
            continued_use_reason: call.continued_use_reason,
            answers: answers
                .map(|answer| TriageAnswer { question: answer.question, answer: answer.answer })
                .collect(),
            taken_by: call.taken_by,
            received_at: call.received_at,
            created_at: call.created_at,
        }
    }
}

/// A call, the orders that it opened, and what is known of their machines.
#[derive(Serialize, ToSchema)]
pub struct CallIntake {
    call: Call,
    #[schema(max_items = 20)]
    orders: Vec<CallOrder>,
    /// Whether any of its machines had a corrective order that ended within the last ninety days.
    is_repeat: bool,
    /// Open orders of the site from before.
    #[schema(max_items = 50)]
    open_at_site: Vec<WorkOrder>,
    /// What to tell the caller and whoever goes there. Advice only: local codes and licensed practice prevail.
    #[schema(max_items = 20)]
    cautions: Vec<CallCaution>,
}

/// An order of a call, and its machine's orders before it.
#[derive(Serialize, ToSchema)]
pub struct CallOrder {
    order: WorkOrder,
    /// Orders of its machine that are open, or of the last ninety days; newest first. Empty while the machine is
    /// not known.
    #[schema(max_items = 50)]
    earlier: Vec<WorkOrder>,
    /// Those of them that this call repeats. Whose fault that is, is not said.
    #[schema(max_items = 50)]
    repeats: Vec<RepeatedOrder>,
    /// Corrective orders of its machine that are open still, however old: perhaps this call is about the same thing.
    #[schema(value_type = Vec<schema::Id>, max_items = 50)]
    possible_duplicates: Vec<WorkOrderId>,
}

/// An earlier corrective order of the same machine that has ended.
#[derive(Serialize, ToSchema)]
pub struct RepeatedOrder {
    #[schema(value_type = schema::Id)]
    work_order_id: WorkOrderId,
    /// Whole days from its end to this call.
    #[schema(minimum = 0, maximum = 90)]
    days_since: i64,
    #[schema(value_type = Vec<schema::Key>, max_items = 30)]
    same_symptoms: Vec<Key>,
}

/// A caution and the rule that it follows.
#[derive(Serialize, ToSchema)]
pub struct CallCaution {
    #[schema(max_length = 500)]
    text: String,
    #[schema(max_length = 200, required)]
    regulation: Option<&'static str>,
}

impl From<Precaution> for CallCaution {
    fn from(precaution: Precaution) -> Self {
        let (text, regulation) = wording::caution::of_precaution(precaution);
        Self { text, regulation }
    }
}

impl From<Intake> for CallIntake {
    fn from(intake: Intake) -> Self {
        let cautions = intake.precautions.into_iter();
        Self {
            call: intake.call.into(),
            is_repeat: intake.orders.iter().any(|order| !order.repeats.is_empty()),
            orders: intake.orders.into_iter().map(CallOrder::from).collect(),
            open_at_site: intake.open_at_site.into_iter().map(WorkOrder::from).collect(),
            cautions: cautions.map(CallCaution::from).collect(),
        }
    }
}

impl From<EarlierOrders> for CallOrder {
    fn from(orders: EarlierOrders) -> Self {
        Self {
            order: orders.order.into(),
            earlier: orders.earlier.into_iter().map(WorkOrder::from).collect(),
            repeats: orders.repeats.into_iter().map(RepeatedOrder::from).collect(),
            possible_duplicates: orders.possible_duplicates,
        }
    }
}

impl From<RepeatCall> for RepeatedOrder {
    fn from(repeat: RepeatCall) -> Self {
        Self {
            work_order_id: repeat.earlier,
            days_since: repeat.days_since,
            same_symptoms: repeat.same_symptoms.into_iter().collect(),
        }
    }
}
