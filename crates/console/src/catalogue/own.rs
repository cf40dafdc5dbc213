//! A machine of our own: questions on a plate, the draft that follows from them, and the way into the catalogue.

use application::catalogue::{CreateFaultCatalogue, CreateModel};
use application::see_catalogue::{Draft, DraftModel, SeeCatalogue, SeeModel};
use application::{Caller, Refusal};
use askama::Template;
use axum::extract::State;
use axum::http::{StatusCode, Uri};
use axum::response::{IntoResponse, Response};
use domain::text::Key;

use super::model::{LimitRow, limits, reference};
use super::plate::{GROUPS, PlateNumber, WIRINGS, key, limit_name, own_limits, positions, read};
use super::{measured, position};
use crate::access::{Posted, SignedIn};
use crate::fields::Fields;
use crate::order::Unit;
use crate::page::{PageFault, Shell, refusal_in_words, show as show_page};
use crate::parts::moves::Choice;
use crate::see;
use crate::state::ConsoleState;

#[derive(Template)]
#[template(path = "catalogue/own.html")]
struct OwnPage {
    shell: Shell,
    refusals: Vec<String>,
    /// Machines that are known already, to begin with their positions.
    likes: Vec<(String, String)>,
    title: String,
    key: String,
    positions: Vec<Choice>,
    groups: Vec<(String, Vec<NumberField>)>,
    wirings: Vec<Choice>,
    stages: String,
    stages_fault: Option<String>,
    draft: Option<DraftView>,
}

struct NumberField {
    name: &'static str,
    label: String,
    unit: &'static str,
    value: String,
    fault: Option<String>,
}

/// What follows from the plate.
struct DraftView {
    reference: String,
    limits: Vec<OwnLimit>,
    typical: Vec<LimitRow>,
    faults: String,
    procedures: Vec<String>,
    without_faults: String,
}

/// A limit as drafted, beside the ends that a person knows better.
struct OwnLimit {
    what: String,
    stands: String,
    unit: &'static str,
    lower: (String, String),
    upper: (String, String),
}

pub(crate) async fn show(
    State(state): State<ConsoleState>,
    SignedIn(caller): SignedIn,
    uri: Uri,
) -> Result<Response, PageFault> {
    caller.require("draft_model")?;
    let asked = Fields::of_query(&uri);
    let mut typed: Vec<(String, String)> =
        GROUPS.iter().flat_map(|(_, fields)| fields.iter()).map(|of| (of.0.into(), of.2.into())).collect();
    if let Some(like) = asked.get("like") {
        let key = Key::new(like).map_err(|_| PageFault::NotFound)?;
        let known = state.application.ask(&caller, SeeModel { key, version: None }).await?;
        let has = known.model.kept.entry.positions.iter();
        typed.extend(has.map(|position| ("position".to_owned(), position.key().to_owned())));
    }
    page(&state, &caller, &Fields::from(typed), StatusCode::OK, &[], None).await
}

pub(crate) async fn work(State(state): State<ConsoleState>, Posted(caller, typed): Posted) -> Response {
    let drafted = match draft(&state, &caller, &typed).await {
        Ok(draft) if typed.raw("do") == "save" => match save(&state, &caller, &draft).await {
            Ok(()) => return see(&format!("/catalogue/models/{}", draft.model.key)),
            Err(refusal) => Err((refusal, Some(draft))),
        },
        Ok(draft) => Ok(draft),
        Err(refusal) => Err((refusal, None)),
    };
    let page = match drafted {
        Ok(draft) => page(&state, &caller, &typed, StatusCode::OK, &[], Some(&draft)).await,
        Err((refusal @ (Refusal::WrongRole { .. } | Refusal::InsufficientScope { .. }), _)) => {
            Err(PageFault::from(refusal))
        }
        Err((refusal, draft)) if refusal.is_for_the_caller() => {
            let status = StatusCode::UNPROCESSABLE_ENTITY;
            let faults = match &refusal {
                Refusal::Invalid(faults) => {
                    faults.iter().map(|of| (of.pointer.clone(), of.detail.clone())).collect()
                }
                other => {
                    refusal_in_words(other).into_iter().map(|text| (String::new(), text)).collect::<Vec<_>>()
                }
            };
            page(&state, &caller, &typed, status, &faults, draft.as_ref()).await
        }
        Err((failure, _)) => Err(PageFault::from(failure)),
    };
    page.unwrap_or_else(IntoResponse::into_response)
}

/// The draft of what was typed, with the limits that the person knows better.
async fn draft(state: &ConsoleState, caller: &Caller, typed: &Fields) -> Result<Draft, Refusal> {
    caller.require("draft_model")?;
    let mut plate = read(typed)?;
    let first = state.application.ask(caller, DraftModel(plate.clone())).await?;
    plate.functional_limits = own_limits(&first, typed)?;
    if plate.functional_limits.is_empty() {
        return Ok(first);
    }
    state.application.ask(caller, DraftModel(plate)).await
}

/// The model first, then what can be wrong with it; sent twice, both are there once.
async fn save(state: &ConsoleState, caller: &Caller, draft: &Draft) -> Result<(), Refusal> {
    state.application.perform(caller, CreateModel(draft.model.clone())).await?;
    state.application.perform(caller, CreateFaultCatalogue(draft.faults.clone())).await?;
    Ok(())
}

async fn page(
    state: &ConsoleState,
    caller: &Caller,
    typed: &Fields,
    status: StatusCode,
    faults: &[(String, String)],
    draft: Option<&Draft>,
) -> Result<Response, PageFault> {
    let known = state.application.ask(caller, SeeCatalogue).await?;
    let likes = known.models.iter().map(|kept| {
        (
            format!("/catalogue/own-machine?like={}", kept.entry.key),
            wording::text(kept.entry.title.as_str()).into_owned(),
        )
    });
    // A pointer into the plate names the field: `/heater/elements` is `heater_elements`.
    let fault_of = |name: &str| {
        let fault =
            faults.iter().find(|(pointer, _)| pointer.trim_start_matches('/').replace('/', "_") == name);
        fault.map(|(_, detail)| detail.clone())
    };
    let named = |(pointer, detail): &(String, String)| match field_label(pointer) {
        Some(label) => format!("{label}: {detail}"),
        None => detail.clone(),
    };
    let groups = GROUPS.iter().map(|(title, fields)| {
        let field = |&(name, unit, _): &PlateNumber| NumberField {
            name,
            label: label(name),
            unit,
            value: typed.raw(name).to_owned(),
            fault: fault_of(name),
        };
        (wording::say(title), fields.iter().map(field).collect())
    });
    let wirings = WIRINGS.iter().map(|(word, _)| Choice {
        value: (*word).to_owned(),
        label: wording::term("wiring", word).into_owned(),
        is_chosen: typed.raw("heater_wiring") == *word,
    });
    let position_choices = positions().map(|of| Choice {
        value: of.key().to_owned(),
        label: position(of.key()),
        is_chosen: typed.all("position").any(|word| word == of.key()),
    });
    let page = OwnPage {
        shell: Shell::of(wording::say("own-title"), caller),
        refusals: faults.iter().map(named).collect(),
        likes: likes.collect(),
        title: typed.raw("title").to_owned(),
        key: if draft.is_some() { key(typed) } else { typed.raw("key").to_owned() },
        positions: position_choices.collect(),
        groups: groups.collect(),
        wirings: wirings.collect(),
        stages: typed.raw("wash_stages_cel").to_owned(),
        stages_fault: fault_of("wash_stages_cel"),
        draft: draft.map(|draft| view(draft, typed)),
    };
    Ok(show_page(status, &page))
}

fn label(name: &str) -> String {
    wording::say(&format!("plate-{}", name.replace('_', "-")))
}

/// What a field is called to whoever reads of its fault.
fn field_label(pointer: &str) -> Option<String> {
    let name = pointer.trim_start_matches('/').replace('/', "_");
    let is_field = GROUPS.iter().flat_map(|(_, fields)| fields.iter()).any(|of| of.0 == name)
        || ["title", "key", "positions", "wash_stages_cel", "heater"].contains(&name.as_str());
    is_field.then(|| label(&name))
}

fn view(draft: &Draft, typed: &Fields) -> DraftView {
    let model = &draft.model;
    let rows = limits(model);
    let own = model.functional_limits.iter().zip(&rows).map(|(limit, row)| {
        let end = |side| {
            let name = limit_name(side, &limit.of);
            let value = typed.raw(&name).to_owned();
            (name, value)
        };
        OwnLimit {
            what: measured(&limit.of),
            stands: row.limit.clone(),
            unit: Unit::of(limit.quantity.canonical_unit()).name(),
            lower: end("lower"),
            upper: end("upper"),
        }
    });
    let without: Vec<String> = draft.without_faults.iter().map(|of| position(of.key())).collect();
    DraftView {
        reference: reference(model),
        limits: own.collect(),
        faults: wording::say_with("catalogue-faults", &[("count", draft.faults.faults.len().into())]),
        procedures: draft
            .procedures
            .iter()
            .map(|procedure| wording::text(procedure.title.as_str()).into_owned())
            .collect(),
        without_faults: without.join(", "),
        typical: rows.into_iter().filter(|row| !row.typical.is_empty()).collect(),
    }
}
