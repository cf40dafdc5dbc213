//! Take a call: what is it, has it been, may it be used, what do we bring?

mod beside;
pub(crate) mod form;

use application::call::TakeCall;
use application::find_anything::FindAnything;
use application::prepare_call::{CallInMaking, PrepareCall};
use application::{Caller, Refusal};
use askama::Template;
use axum::extract::State;
use axum::http::{StatusCode, Uri};
use axum::response::{IntoResponse, Response};
use domain::id::SiteId;

use crate::access::{Posted, SignedIn};
use crate::fields::Fields;
use crate::page::{PageFault, Shell, refusal_in_words, show as show_page};
use crate::search::FoundView;
use crate::see;
use crate::state::ConsoleState;
use beside::Beside;
use form::{Asked, Choice, Question};

#[derive(Template)]
#[template(path = "call_where.html")]
struct WherePage {
    shell: Shell,
    words: String,
    has_searched: bool,
    found: Vec<FoundView>,
}

#[derive(Template)]
#[template(path = "call.html")]
struct CallPage {
    shell: Shell,
    kitchen: String,
    kitchen_href: String,
    place: String,
    refusals: Vec<String>,
    hidden: Vec<(&'static str, String)>,
    contacts: Vec<Choice>,
    machines: Vec<Choice>,
    dangers: Vec<Choice>,
    words: String,
    complaints: Vec<Choice>,
    also: Vec<Choice>,
    questions: Vec<Question>,
    urgencies: Vec<Choice>,
    uses: Vec<Choice>,
    continued_use_reason: String,
    limit: String,
    currency: String,
    beside: Beside,
}

pub(crate) async fn show(
    State(state): State<ConsoleState>,
    SignedIn(caller): SignedIn,
    uri: Uri,
) -> Result<Response, PageFault> {
    let asked = Fields::of_query(&uri);
    match asked.get("site") {
        Some(_) => page(&state, &caller, &asked, StatusCode::OK, Vec::new()).await,
        None => whereabouts(&state, &caller, &asked).await,
    }
}

/// First the kitchen: by its name, street, telephone, a machine's serial or an order's number.
async fn whereabouts(state: &ConsoleState, caller: &Caller, asked: &Fields) -> Result<Response, PageFault> {
    caller.require("prepare_call").map_err(PageFault::Refused)?;
    let words = asked.raw("words").to_owned();
    let found = state.application.ask(caller, FindAnything(words.clone())).await?;
    let found = found.into_iter().filter(|found| found.site_id.is_some()).map(FoundView::from).collect();
    let has_searched = asked.get("words").is_some();
    let page = WherePage { shell: Shell::of(wording::say("call-title"), caller), words, has_searched, found };
    Ok(show_page(StatusCode::OK, &page))
}

pub(crate) async fn take(State(state): State<ConsoleState>, Posted(caller, fields): Posted) -> Response {
    if fields.raw("do") != "open" {
        let page = page(&state, &caller, &fields, StatusCode::OK, Vec::new()).await;
        return page.unwrap_or_else(IntoResponse::into_response);
    }
    let taken = match Asked::of(&fields).and_then(|asked| asked.call(&fields)) {
        Ok((call, order)) => state.application.perform(&caller, TakeCall { call, orders: vec![order] }).await,
        Err(refusal) => Err(refusal),
    };
    match taken {
        Ok(taken) => match taken.item.orders.first() {
            Some(of) => see(&format!("/orders/{}", of.order.number)),
            None => see("/today"),
        },
        Err(refusal @ Refusal::WrongRole { .. }) => PageFault::from(refusal).into_response(),
        Err(refusal) if refusal.is_for_the_caller() => {
            let refusals = refusal_in_words(&refusal);
            let page = page(&state, &caller, &fields, StatusCode::UNPROCESSABLE_ENTITY, refusals).await;
            page.unwrap_or_else(IntoResponse::into_response)
        }
        Err(refusal) => PageFault::from(refusal).into_response(),
    }
}

async fn page(
    state: &ConsoleState,
    caller: &Caller,
    typed: &Fields,
    status: StatusCode,
    refusals: Vec<String>,
) -> Result<Response, PageFault> {
    let site = typed.get("site").and_then(|id| id.parse::<uuid::Uuid>().ok());
    let site = site.and_then(|id| SiteId::try_from(id).ok()).ok_or(PageFault::NotFound)?;
    // What cannot be read is left out beside; sent, it is refused.
    let asked = Asked::of(typed).unwrap_or_else(|_| Asked::nothing(site));
    let question = PrepareCall {
        site,
        appliance: asked.appliance,
        symptoms: asked.symptoms.clone(),
        dangers: asked.dangers.clone(),
        stop_use: asked.stop_use,
        answers: asked.answers.clone(),
    };
    let answer: CallInMaking = state.application.ask(caller, question).await?;
    let kitchen = &answer.kitchen;
    let new_id = |name: &'static str| {
        let kept = typed.get(name).map(str::to_owned);
        (name, kept.unwrap_or_else(|| state.application.next_id().to_string()))
    };
    let page = CallPage {
        shell: Shell::of(wording::say("call-title"), caller),
        kitchen: kitchen.site.name.to_string(),
        kitchen_href: format!("/kitchens/{site}"),
        place: kitchen.site.place.to_string(),
        refusals,
        hidden: vec![("site", site.to_string()), new_id("call"), new_id("order")],
        contacts: form::contacts(kitchen, typed),
        machines: form::machines(kitchen, typed),
        dangers: form::dangers(typed),
        words: typed.raw("words").to_owned(),
        complaints: form::complaints(&answer.symptoms, typed),
        also: form::also(&answer.symptoms, typed),
        questions: form::questions(&answer.questions, typed),
        urgencies: form::urgencies(typed),
        uses: form::uses(typed),
        continued_use_reason: typed.raw("continued_use_reason").to_owned(),
        limit: typed.raw("limit").to_owned(),
        currency: typed.get("currency").unwrap_or("EUR").to_owned(),
        beside: Beside::of(&answer),
    };
    Ok(show_page(status, &page))
}
