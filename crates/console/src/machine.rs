//! A machine: does it drift, what is in it, what happened to it?

mod costs;

use application::Caller;
use application::appliance::GetApplianceCosts;
use application::see_machine::{HistoryEntry, MachineFile, SeeMachine};
use askama::Template;
use axum::extract::State;
use axum::http::{StatusCode, Uri};
use axum::response::Response;
use chrono_tz::Tz;
use domain::id::ApplianceId;

use self::costs::Costs;
use crate::access::{Posted, SignedIn};
use crate::kitchen::id_in;
use crate::page::{PageFault, Shell, show as show_page};
use crate::parts::life::Life;
use crate::parts::moves::{Attempt, Input, Move};
use crate::see;
use crate::state::ConsoleState;
use crate::today::LineView;
use crate::when;

#[derive(Template)]
#[template(path = "machine.html")]
struct MachinePage {
    shell: Shell,
    label: String,
    model: String,
    serial: String,
    installed: String,
    kitchen: String,
    kitchen_href: String,
    call_href: String,
    state: String,
    stops: Vec<String>,
    drifting: Vec<String>,
    open: Vec<LineView>,
    lives: Vec<LifeRow>,
    parts: Vec<PartRow>,
    past: Vec<PastRow>,
    costs: Costs,
    tell_price: Option<Move>,
}

struct LifeRow {
    what: String,
    position: String,
    life: Life,
    sentence: String,
    is_drifting: bool,
}

struct PartRow {
    /// How long the parts in this position live.
    life_href: String,
    position: String,
    part: String,
    serial: String,
    since: String,
}

struct PastRow {
    at: String,
    kind: String,
    text: String,
}

pub(crate) async fn show(
    State(state): State<ConsoleState>,
    SignedIn(caller): SignedIn,
    uri: Uri,
) -> Result<Response, PageFault> {
    page(&state, &caller, id_in(&uri)?, &Attempt::default()).await
}

/// Says what a new machine costs.
pub(crate) async fn tell_price(
    State(state): State<ConsoleState>,
    uri: Uri,
    Posted(caller, fields): Posted,
) -> Result<Response, PageFault> {
    let machine = id_in(&uri)?;
    let told = match costs::told(machine, &fields) {
        Ok(told) => state.application.perform(&caller, told).await,
        Err(refusal) => Err(refusal),
    };
    match told {
        Ok(_) => Ok(see(&format!("/machines/{machine}#costs"))),
        Err(refusal) if refusal.is_for_the_caller() => {
            page(&state, &caller, machine, &Attempt::refused("price", &refusal, fields)).await
        }
        Err(refusal) => Err(refusal.into()),
    }
}

async fn page(
    state: &ConsoleState,
    caller: &Caller,
    machine: ApplianceId,
    attempt: &Attempt,
) -> Result<Response, PageFault> {
    let file = state.application.ask(caller, SeeMachine(machine)).await?;
    let costs = state.application.ask(caller, GetApplianceCosts(machine)).await?;
    let may_tell = caller.require("update_appliance").is_ok();
    let tell_price = may_tell.then(|| costs::form(&costs).after(attempt));
    let status = if attempt.refusals.is_empty() { StatusCode::OK } else { StatusCode::CONFLICT };
    let zone = when::zone(file.site.time_zone.as_str());
    let machine = &file.appliance;
    let stops = file.stops.iter().filter(|stop| stop.release.is_none());
    let stops = stops.map(|stop| {
        let since = when::since(stop.stopped_at, file.now);
        let since = wording::say_with("today-stopped-since", &[("span", since.into())]);
        format!("{} · {since}", stop.why.as_str())
    });
    let lives = lives(&file);
    let drifting =
        lives.iter().filter(|row| row.is_drifting).map(|row| format!("{}: {}", row.what, row.sentence));
    let page = MachinePage {
        shell: Shell::of(machine.position_label.to_string(), caller)
            .live(&machine.id, &format!("/machines/{}", machine.id)),
        label: machine.position_label.to_string(),
        model: wording::text(&file.model_title).into_owned(),
        serial: machine.serial.as_ref().map(ToString::to_string).unwrap_or_default(),
        installed: machine.installed_on.map(|day| when::day(day, file.now)).unwrap_or_default(),
        kitchen: file.site.name.to_string(),
        kitchen_href: format!("/kitchens/{}", file.site.id),
        call_href: format!("/calls/new?site={}&machine={}", file.site.id, machine.id),
        state: wording::term("appliance-state", machine.state.word()).into_owned(),
        stops: stops.collect(),
        drifting: drifting.collect(),
        open: file.open.iter().map(|line| LineView::of(line, file.now)).collect(),
        lives,
        parts: parts(&file),
        past: file.history.iter().map(|entry| past(entry, zone, &file)).collect(),
        costs: Costs::of(&costs),
        tell_price,
    };
    Ok(show_page(status, &page))
}

/// A small chart a reading, all on the same time axis; drifting ones first.
fn lives(file: &MachineFile) -> Vec<LifeRow> {
    let Some(drift) = &file.drift else { return Vec::new() };
    let all = drift.charts.iter().flat_map(|of| &of.chart.points);
    let Some(from) = all.map(|point| point.reading.taken_at).min() else { return Vec::new() };
    let row = |of: &application::drift::MeasurementDrift| {
        let unit = crate::order::Unit::of(of.quantity.canonical_unit());
        let sentence = match (of.chart.drifting_since, of.chart.points.last()) {
            (Some(since), _) => {
                let since = when::day(since.instant().date_naive(), file.now);
                wording::say_with("life-drifts", &[("since", since.into())])
            }
            (None, Some(last)) => {
                let value = unit.write(last.reading.value);
                let variables = [("value", value.into()), ("n", of.chart.points.len().into())];
                let is_judged = of.chart.points.iter().any(|point| point.score.is_some());
                wording::say_with(if is_judged { "life-steady" } else { "life-few" }, &variables)
            }
            (None, None) => String::new(),
        };
        let what = wording::term("step", of.of.step.as_str()).into_owned();
        let label = format!("{what}: {sentence}");
        LifeRow {
            what,
            position: wording::term("position", of.position.key()).into_owned(),
            life: Life::of(&of.chart, from, file.now, label),
            sentence,
            is_drifting: of.chart.drifting_since.is_some(),
        }
    };
    let mut rows: Vec<LifeRow> = drift.charts.iter().map(row).collect();
    rows.sort_by_key(|row| !row.is_drifting);
    rows
}

fn parts(file: &MachineFile) -> Vec<PartRow> {
    let row = |part: &application::see_machine::FittedPart| PartRow {
        life_href: format!("/numbers/part-life?position={}", part.position),
        position: wording::term("position", part.position.as_str()).into_owned(),
        part: format!("{}, {}", part.part_number.as_str(), part.part_title.as_str()),
        serial: part.serial.as_ref().map(ToString::to_string).unwrap_or_default(),
        since: when::day(part.fitted_at.instant().date_naive(), file.now),
    };
    file.parts.iter().map(row).collect()
}

fn past(entry: &HistoryEntry, zone: Tz, file: &MachineFile) -> PastRow {
    let word = |list: &str, key: &str| wording::term(list, key).into_owned();
    let told =
        |name: &str, list: &str| entry.detail[name].as_str().map(|key| word(list, key)).unwrap_or_default();
    let all = |name: &str, list: &str| {
        let all = entry.detail[name].as_array().map(Vec::as_slice).unwrap_or_default();
        all.iter().filter_map(|key| key.as_str()).map(|key| word(list, key)).collect::<Vec<_>>().join(", ")
    };
    let number = entry.detail["number"].as_i64().map(|number| number.to_string()).unwrap_or_default();
    let place: Vec<String> = entry.positions.iter().map(|of| word("position", of.as_str())).collect();
    let text = match entry.kind.as_str() {
        "order_received" => [
            number,
            all("symptoms", "symptom"),
            entry.detail["words"].as_str().unwrap_or_default().to_owned(),
        ],
        "order_ended" => [number, told("outcome", "outcome"), String::new()],
        "visit" => [all("people", "name"), told("result", "visit-result"), String::new()],
        "test_run" => [told("procedure", "procedure"), told("phase", "phase"), String::new()],
        "finding" => [place.join(", "), told("finding", "condition"), told("failure_mode", "failure-mode")],
        "action_taken" => [place.join(", "), told("action", "action"), told("part_number", "number")],
        _ => [place.join(", "), told("part_number", "number"), told("title", "title")],
    };
    let text: Vec<String> = text.into_iter().filter(|part| !part.is_empty()).collect();
    PastRow {
        at: when::clock(zone, entry.at, file.now),
        kind: wording::term("past", &entry.kind).into_owned(),
        text: text.join(" · "),
    }
}
