use application::call::TakeCall;
use application::call::{NewCall, TriageAnswer as TriageAnswerRow};
use application::work_order::NewWorkOrder;
use axum::extract::State;
use axum::response::Response;
use domain::id::{ApplianceId, CallId, ContactId, SiteId, WorkOrderId};
use domain::text::{Key, Words};
use domain::time::Timestamp;
use domain::work::{Danger, OrderKind, Urgency};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::view::{CallIntake, TriageAnswer};
use crate::answer::{Answer, carry_out};
use crate::extract::{IdempotencyKey, Json};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;
use crate::work_orders::Money;

/// A call to take.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CallCreate {
    #[schema(value_type = schema::Id)]
    id: CallId,
    #[schema(value_type = schema::Id)]
    site_id: SiteId,
    /// Who calls, or will be on site.
    #[schema(value_type = Option<schema::Id>)]
    contact_id: Option<ContactId>,
    /// In the caller's own words, kept as they are.
    #[schema(value_type = schema::Words)]
    words: Words,
    /// Now, if it is left out.
    #[schema(value_type = Option<schema::Instant>)]
    received_at: Option<Timestamp>,
    #[schema(value_type = schema::UrgencyWord)]
    urgency: Urgency,
    #[serde(default)]
    #[schema(value_type = Vec<schema::DangerWord>, max_items = 6, required = false)]
    dangers: Vec<Danger>,
    /// Whether the caller is told not to use the machine: its appliances become unsafe_do_not_use.
    stop_use: bool,
    /// With a danger and without stop_use: why the machine may stay in use.
    #[schema(value_type = Option<schema::Words>)]
    continued_use_reason: Option<Words>,
    #[serde(default)]
    #[schema(max_items = 50, required = false)]
    answers: Vec<TriageAnswer>,
    /// One order for each machine that the call is about.
    #[schema(min_items = 1, max_items = 20)]
    orders: Vec<CallOrderCreate>,
}

/// An order that a call opens.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CallOrderCreate {
    #[schema(value_type = schema::Id)]
    id: WorkOrderId,
    /// Left out while it is not known which machine it is; confirmed on site.
    #[schema(value_type = Option<schema::Id>)]
    appliance_id: Option<ApplianceId>,
    #[schema(value_type = Vec<schema::Key>, min_items = 1, max_items = 30)]
    symptoms: Vec<Key>,
    /// The call's, if it is left out.
    #[schema(value_type = Option<schema::UrgencyWord>)]
    urgency: Option<Urgency>,
    /// The ended order that it comes back on.
    #[schema(value_type = Option<schema::Id>)]
    follows_id: Option<WorkOrderId>,
    /// What the customer lets us spend without a quote.
    #[schema(nullable)]
    spending_limit: Option<Money>,
}

/// Take a call
///
/// With all orders that it opens, in one transaction. The answer shows the open and recent orders of their machines
/// and of the site, which of them this call repeats, and the cautions that follow from its dangers.
#[utoipa::path(post, path = "/v1/calls", tag = "calls", request_body = CallCreate,
    responses(
        (status = 201, description = "Taken", body = CallIntake),
        (status = 200, description = "Was taken already", body = CallIntake),
    ))]
pub async fn create_call(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<CallCreate>,
) -> Result<Response, Problem> {
    carry_out(&state, &caller, key, &body, body.use_case(), |created| {
        let location = format!("/v1/calls/{}", created.item.call.id);
        // A call never changes.
        Answer::created(created.is_new, location, 1, &CallIntake::from(created.item))
    })
    .await
}

impl CallCreate {
    fn use_case(&self) -> TakeCall {
        let answers = self.answers.iter().cloned();
        let call = NewCall {
            id: self.id,
            site: self.site_id,
            contact: self.contact_id,
            words: self.words.clone(),
            urgency: self.urgency,
            dangers: self.dangers.clone(),
            stop_use: self.stop_use,
            continued_use_reason: self.continued_use_reason.clone(),
            answers: answers
                .map(|TriageAnswer { question, answer }| TriageAnswerRow { question, answer })
                .collect(),
            received_at: self.received_at,
        };
        let orders = self.orders.iter().map(|order| NewWorkOrder {
            id: order.id,
            call: Some(self.id),
            site: self.site_id,
            appliance: order.appliance_id,
            kind: OrderKind::Corrective,
            urgency: order.urgency.unwrap_or(self.urgency),
            follows: order.follows_id,
            spending_limit: order.spending_limit.map(Into::into),
            symptoms: order.symptoms.clone(),
            received_at: self.received_at,
        });
        TakeCall { orders: orders.collect(), call }
    }
}
