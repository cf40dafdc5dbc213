//! An order: where does it stand, what is wrong, what next?

pub(crate) mod axes;
pub(crate) mod diagnosis;
pub(crate) mod door;
pub(crate) mod history;
pub(crate) mod missing;
pub(crate) mod moves;
pub(crate) mod readings;

use application::Caller;
use application::see_order::{OrderFile, SeeOrder};
use askama::Template;
use axum::Router;
use axum::extract::State;
use axum::http::{StatusCode, Uri};
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};

use crate::access::SignedIn;
use crate::call::form::answer_in_words;
use crate::fields::Fields;
use crate::page::{PageFault, Shell, show as show_page};
use crate::parts::moves::{Attempt, Input, Move};
use crate::state::ConsoleState;
use crate::today::PromiseView;
use crate::when;

pub(crate) use diagnosis::percent;
pub(crate) use readings::{Unit, figure};

pub(crate) fn routes() -> Router<ConsoleState> {
    Router::new()
        .route("/orders/{number}", get(show))
        .route("/orders/{number}/moves/{action}", post(moves::move_order))
        .route("/orders/{number}/visits", post(moves::visits::book))
        .route("/orders/{number}/visits/{id}/{action}", post(moves::visits::step))
        .route("/orders/{number}/waits", post(moves::waits::begin))
        .route("/orders/{number}/waits/{id}/end", post(moves::waits::end))
        .route("/orders/{number}/lines", post(moves::lines::add))
        .route("/orders/{number}/lines/{id}/{action}", post(moves::lines::step))
        .route("/orders/{number}/quotes", post(moves::money::quote))
        .route("/orders/{number}/quotes/{id}/{decision}", post(moves::money::decide))
        .route("/orders/{number}/visits/{id}/plan", post(moves::visits::plan))
        .route("/orders/{number}/lines/{id}/change", post(moves::lines::change))
        .route("/orders/{number}/change", post(moves::change::change))
        .route("/orders/{number}/notes", post(moves::notes::note))
        .route("/orders/{number}/standing-facts", post(moves::notes::tell_facts))
        .route("/orders/{number}/waivers", post(moves::change::waive))
        .route("/orders/{number}/release", post(moves::machine::release))
        .route("/orders/{number}/stops", post(moves::machine::stop))
        .route("/orders/{number}/machine", post(moves::machine::confirm))
        .route("/orders/{number}/other-machine", post(moves::machine::correct))
        .route("/orders/{number}/findings", post(moves::findings::find))
        .route("/orders/{number}/findings/{id}/take-back", post(moves::findings::take_back))
        .route("/orders/{number}/actions", post(moves::actions::act))
        .route("/orders/{number}/defeats", post(moves::defeats::open))
        .route("/orders/{number}/defeats/{id}/remove", post(moves::defeats::remove))
}

#[derive(Template)]
#[template(path = "order.html")]
struct OrderPage {
    shell: Shell,
    number: i64,
    kitchen: String,
    kitchen_href: String,
    machine: Option<(String, String)>,
    model: String,
    place: String,
    complaint: String,
    said: Option<Said>,
    promise: PromiseView,
    /// Of a move that is no longer there, so that it stands beside no button.
    refusals: Vec<String>,
    stops: Vec<String>,
    axes: Vec<axes::Axis>,
    epochs: Vec<(String, String, bool)>,
    readings: readings::ReadingsView,
    wrong: diagnosis::WrongView,
    found: Vec<axes::Item>,
    findings: Vec<Move>,
    done: Vec<history::Event>,
    mend_cautions: Vec<String>,
    actions: Vec<Move>,
    events: Vec<history::Event>,
}

/// What the caller said.
pub(crate) struct Said {
    pub words: String,
    pub by: String,
    /// What was asked, and what was answered.
    pub answers: Vec<(String, String)>,
    pub repeats: Vec<String>,
}

async fn show(
    State(state): State<ConsoleState>,
    SignedIn(caller): SignedIn,
    uri: Uri,
) -> Result<Response, PageFault> {
    let number = number_in(&uri)?;
    let epoch = Fields::of_query(&uri).parse("epoch").and_then(Result::ok);
    render(&state, &caller, number, epoch, StatusCode::OK, &Attempt::default()).await
}

/// The order's number in its address.
pub(crate) fn number_in(uri: &Uri) -> Result<i64, PageFault> {
    segment(uri, 2).parse().map_err(|_| PageFault::NotFound)
}

/// A part of a path; the first stands at 1.
pub(crate) fn segment(uri: &Uri, at: usize) -> &str {
    uri.path().split('/').nth(at).unwrap_or_default()
}

/// The order's page after a move that was refused: what was typed stays.
pub(crate) async fn refused(
    state: &ConsoleState,
    caller: &Caller,
    number: i64,
    attempt: &Attempt,
) -> Response {
    let page = render(state, caller, number, None, StatusCode::CONFLICT, attempt).await;
    page.unwrap_or_else(IntoResponse::into_response)
}

async fn render(
    state: &ConsoleState,
    caller: &Caller,
    number: i64,
    epoch: Option<u32>,
    status: StatusCode,
    attempt: &Attempt,
) -> Result<Response, PageFault> {
    let file = state.application.ask(caller, SeeOrder { number, epoch }).await?;
    let zone = when::zone(file.site.time_zone.as_str());
    let at = format!("/orders/{number}");
    let maker =
        axes::Maker { at, file: &file, caller, zone, attempt, next_id: &|| state.application.next_id() };
    let mut axes = maker.axes();
    axes.push(maker.protection());
    let (found, findings, actions) = (maker.found(), maker.findings(), maker.actions());
    let mut shown = found.iter().flat_map(|item| &item.moves).chain(&findings).chain(&actions);
    let is_shown = shown.any(Move::is_open) || axes.iter().any(axes::Axis::shows_refusal);
    let wrong = diagnosis::WrongView::of(&file);
    let page = OrderPage {
        refusals: if is_shown { Vec::new() } else { attempt.refusals.clone() },
        shell: Shell::of(wording::say_with("order-title", &[("number", number.to_string().into())]), caller)
            .live(&file.order.id, &format!("/orders/{number}")),
        number,
        kitchen: file.site.name.to_string(),
        kitchen_href: format!("/kitchens/{}", file.site.id),
        machine: file
            .appliance
            .as_ref()
            .map(|appliance| (appliance.position_label.to_string(), format!("/machines/{}", appliance.id))),
        model: model(&file),
        place: file.site.place.to_string(),
        complaint: complaint(&file),
        said: said(&file),
        promise: PromiseView::of(&file.promise),
        stops: axes::open_stops(&file),
        axes,
        epochs: readings::epochs(&file),
        readings: readings::ReadingsView::of(&file, zone),
        found,
        findings,
        done: history::done(&file, zone),
        mend_cautions: maker.cautions(&wrong.skills_and_care),
        wrong,
        actions,
        events: history::events(&file, zone),
    };
    Ok(show_page(status, &page))
}

pub(crate) fn model(file: &OrderFile) -> String {
    let Some(appliance) = &file.appliance else { return String::new() };
    let title = file.model.as_ref().map(|model| wording::text(model.title.as_str()).into_owned());
    let title = title.unwrap_or_else(|| appliance.model.to_string());
    match &appliance.serial {
        Some(serial) => {
            let variables = [("model", title.into()), ("serial", serial.to_string().into())];
            wording::say_with("order-model", &variables)
        }
        None => title,
    }
}

pub(crate) fn complaint(file: &OrderFile) -> String {
    let symptoms: Vec<_> =
        file.order.symptoms.iter().map(|symptom| wording::term("symptom", symptom.as_str())).collect();
    if symptoms.is_empty() {
        wording::term("order-kind", file.order.kind.word()).into_owned()
    } else {
        symptoms.join(", ")
    }
}

pub(crate) fn said(file: &OrderFile) -> Option<Said> {
    let intake = file.call.as_ref()?;
    let call = &intake.call;
    let name = file.contact.as_ref().and_then(|contact| contact.name.clone());
    let phone = file.contact.as_ref().and_then(|contact| contact.phone.clone());
    let who = [name.map(|name| name.to_string()), phone.map(|phone| phone.to_string())];
    let who: Vec<String> = who.into_iter().flatten().collect();
    let zone = when::zone(file.site.time_zone.as_str());
    let variables = [
        ("who", if who.is_empty() { wording::say("order-somebody") } else { who.join(", ") }.into()),
        ("at", when::clock(zone, call.received_at, file.now).into()),
        ("taken_by", file.names.get(&call.taken_by).cloned().unwrap_or_default().into()),
    ];
    let own = intake.orders.iter().find(|of| of.order.id == file.order.id);
    let repeats = own.into_iter().flat_map(|of| {
        of.repeats.iter().filter_map(|repeat| {
            let earlier = of.earlier.iter().find(|order| order.id == repeat.earlier)?;
            let variables =
                [("number", earlier.number.to_string().into()), ("days", repeat.days_since.into())];
            Some(wording::say_with("order-repeats", &variables))
        })
    });
    Some(Said {
        words: call.words.to_string(),
        by: wording::say_with("order-said-by", &variables),
        answers: call
            .answers
            .iter()
            .map(|of| {
                let question = of.question.as_str();
                let words = wording::term("ask", question).into_owned();
                (words, answer_in_words(question, of.answer.as_str()))
            })
            .collect(),
        repeats: repeats.collect(),
    })
}
