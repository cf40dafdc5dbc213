//! What was just read: each value on its scale, its sentence, what to put back, and what comes next.

use application::see_visit::SeeVisit;
use askama::Template;
use axum::extract::State;
use axum::http::{StatusCode, Uri};
use axum::response::Response;
use domain::id::{TestRunId, VisitId};
use uuid::Uuid;

use super::defeats::{self, DefeatView};
use super::visit::NextView;
use super::visit_in;
use crate::access::SignedIn;
use crate::order::readings::ReadingsView;
use crate::order::{axes, segment};
use crate::page::{PageFault, Shell, show as show_page};
use crate::state::ConsoleState;
use crate::when;

#[derive(Template)]
#[template(path = "day/run.html")]
struct RunPage {
    shell: Shell,
    visit: VisitId,
    machine: String,
    title: String,
    again: String,
    stops: Vec<String>,
    defeat: Option<DefeatView>,
    readings: ReadingsView,
    doubts: Vec<String>,
    put_back: Vec<String>,
    next: NextView,
}

pub(super) async fn show(
    State(state): State<ConsoleState>,
    SignedIn(caller): SignedIn,
    uri: Uri,
) -> Result<Response, PageFault> {
    let visit = visit_in(&uri)?;
    let id = segment(&uri, 4).parse::<Uuid>().ok().and_then(|id| TestRunId::try_from(id).ok());
    let of = state.application.ask(&caller, SeeVisit(visit)).await?;
    let run = of.runs.iter().find(|run| Some(run.id) == id).ok_or(PageFault::NotFound)?;
    let known = of.procedures.iter().find(|procedure| procedure.id() == run.procedure);
    let title = known.map_or_else(
        || wording::term("procedure", run.procedure.key.as_str()).into_owned(),
        |known| wording::text(known.title.as_str()).into_owned(),
    );
    let mut put_back = Vec::new();
    if let Some(procedure) = known {
        if procedure.powered {
            put_back.push(wording::say("put-back-power"));
        }
        if procedure.positions.iter().any(|position| position.holds_water()) {
            put_back.push(wording::say("put-back-water"));
        }
    }
    put_back.push(wording::say("put-back-covers"));
    let zone = when::zone(of.file.site.time_zone.as_str());
    let page = RunPage {
        shell: Shell::of(title.clone(), &caller),
        visit,
        machine: super::visit::machine(&of),
        title,
        again: format!("/day/{visit}/procedures/{}", run.procedure.key),
        stops: axes::open_stops(&of.file),
        defeat: defeats::open_of(&of),
        readings: ReadingsView::of_run(&of.file, zone, run.id),
        doubts: known
            .map(|known| run.doubts(known))
            .unwrap_or_default()
            .into_iter()
            .map(|of| of.detail)
            .collect(),
        put_back,
        next: NextView::of(&of),
    };
    Ok(show_page(StatusCode::OK, &page))
}
