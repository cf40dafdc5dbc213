//! A visit: what to heed, what to test next, what was read, what is wrong, what was found and done, and the moves.

use application::Caller;
use application::see_visit::{SeeVisit, VisitFile};
use askama::Template;
use axum::extract::State;
use axum::http::{StatusCode, Uri};
use axum::response::{IntoResponse, Response};
use domain::id::VisitId;

use super::card::CardView;
use super::defeats::{self, DefeatView};
use super::tests_left::{self, TestView};
use super::visit_in;
use crate::access::SignedIn;
use crate::order::axes::{self, Axis, Item};
use crate::order::diagnosis::WrongView;
use crate::order::history;
use crate::order::readings::ReadingsView;
use crate::page::{PageFault, Shell, show as show_page};
use crate::parts::moves::{Attempt, Input, Move};
use crate::state::ConsoleState;
use crate::when;

#[derive(Template)]
#[template(path = "day/visit.html")]
struct VisitPage {
    shell: Shell,
    /// Why something was not done whose form is not there any more.
    refusals: Vec<String>,
    card: CardView,
    defeat: Option<DefeatView>,
    next: NextView,
    tests: Vec<TestView>,
    readings: ReadingsView,
    found: Vec<Item>,
    done: Vec<history::Event>,
    mend_cautions: Vec<String>,
    findings: Vec<Move>,
    actions: Vec<Move>,
    axes: Vec<Axis>,
}

/// What comes next, what is wrong, what to bring.
pub(super) struct NextView {
    pub wrong: WrongView,
    pub test: Option<(String, String)>,
}

impl NextView {
    pub fn of(of: &VisitFile) -> Self {
        let test = tests_left::next(of).map(|test| {
            (
                format!("/day/{}/procedures/{}", of.visit.id, test.procedure),
                wording::text(test.title.as_str()).into_owned(),
            )
        });
        Self { wrong: WrongView::of(&of.file), test }
    }
}

/// Which machine is meant, for the head of a page.
pub(super) fn machine(of: &VisitFile) -> String {
    let machine = of.file.appliance.as_ref().map(|appliance| appliance.position_label.to_string());
    format!("{}, {}", of.file.site.name, machine.unwrap_or_else(|| wording::say("machine-not-known")))
}

pub(super) async fn show(
    State(state): State<ConsoleState>,
    SignedIn(caller): SignedIn,
    uri: Uri,
) -> Result<Response, PageFault> {
    render(&state, &caller, visit_in(&uri)?, StatusCode::OK, &Attempt::default()).await
}

/// The page of a visit after a move that was refused: what was typed stays.
pub(crate) async fn refused(
    state: &ConsoleState,
    caller: &Caller,
    visit: VisitId,
    attempt: &Attempt,
) -> Response {
    let page = render(state, caller, visit, StatusCode::CONFLICT, attempt).await;
    page.unwrap_or_else(IntoResponse::into_response)
}

async fn render(
    state: &ConsoleState,
    caller: &Caller,
    visit: VisitId,
    status: StatusCode,
    attempt: &Attempt,
) -> Result<Response, PageFault> {
    let of = state.application.ask(caller, SeeVisit(visit)).await?;
    let zone = when::zone(of.file.site.time_zone.as_str());
    let next_id = || state.application.next_id();
    let at = format!("/day/{visit}");
    let maker = axes::Maker { at, file: &of.file, caller, zone, attempt, next_id: &next_id };
    // The visit's own steps stand on top.
    let axes: Vec<Axis> = maker.axes().into_iter().filter(|axis| axis.key != "visit-axis").collect();
    let card = CardView::of(&of.file, &of.visit, caller, attempt);
    let (found, findings, actions) = (maker.found(), maker.findings(), maker.actions());
    let taken_back = found.iter().flat_map(|item| &item.moves);
    let mut shown = card.moves.iter().chain(taken_back).chain(&findings).chain(&actions);
    let is_shown = shown.any(Move::is_open) || axes.iter().any(Axis::shows_refusal);
    let next = NextView::of(&of);
    let page = VisitPage {
        refusals: if is_shown { Vec::new() } else { attempt.refusals.clone() },
        shell: Shell::of(machine(&of), caller),
        card,
        defeat: defeats::open_of(&of),
        tests: tests_left::all(&of),
        readings: ReadingsView::of(&of.file, zone),
        found,
        done: history::done(&of.file, zone),
        mend_cautions: maker.cautions(&next.wrong.skills_and_care),
        next,
        findings,
        actions,
        axes,
    };
    Ok(show_page(status, &page))
}
