use application::part_line::CreatePartLine;
use application::part_line::NewPartLine;
use axum::extract::State;
use axum::response::Response;
use domain::id::{FindingId, PartId, PartLineId, WorkOrderId};
use domain::money::{Amount, Currency};
use domain::text::{Key, Words};
use domain::work::Payer;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::view::PartLine;
use crate::answer::{Answer, carry_out};
use crate::extract::{IdempotencyKey, Json, Path};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// A part that an order needs.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PartLineCreate {
    #[schema(value_type = schema::Id)]
    id: PartLineId,
    #[schema(value_type = schema::Id)]
    part_id: PartId,
    /// The finding that asks for it.
    #[schema(value_type = Option<schema::Id>)]
    finding_id: Option<FindingId>,
    /// Where it goes in the machine.
    #[schema(value_type = Option<schema::Key>)]
    position: Option<Key>,
    #[schema(minimum = 1, maximum = 10_000)]
    quantity: u32,
    #[schema(value_type = schema::PayerWord)]
    payer: Payer,
    /// The part's own price, if it is left out.
    #[schema(value_type = Option<schema::Amount>)]
    unit_price: Option<Amount>,
    #[schema(value_type = Option<schema::Currency>)]
    currency: Option<Currency>,
    /// A manager's or administrator's word why the part goes where the catalogue does not list it.
    #[schema(value_type = Option<schema::Words>)]
    fit_override: Option<Words>,
}

/// Note a part that an order needs
#[utoipa::path(post, path = "/v1/work-orders/{id}/part-lines", tag = "part lines", request_body = PartLineCreate,
    params(("id" = schema::Id, Path)),
    responses(
        (status = 201, description = "Noted", body = PartLine),
        (status = 200, description = "Was noted already", body = PartLine),
    ))]
pub async fn create_part_line(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(work_order): Path<WorkOrderId>,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<PartLineCreate>,
) -> Result<Response, Problem> {
    let request = (work_order, &body);
    let new = NewPartLine {
        id: body.id,
        work_order,
        finding: body.finding_id,
        part: body.part_id,
        position: body.position.clone(),
        quantity: body.quantity,
        payer: body.payer,
        unit_price: body.unit_price,
        currency: body.currency,
        fit_override: body.fit_override.clone(),
    };
    carry_out(&state, &caller, key, &request, CreatePartLine(new), |created| {
        let location = format!("/v1/part-lines/{}", created.item.id);
        let version = created.item.version;
        Answer::created(created.is_new, location, version, &PartLine::from(created.item))
    })
    .await
}
