use application::see_catalogue::SeeFaults;
use askama::Template;
use axum::extract::State;
use axum::http::{StatusCode, Uri};
use axum::response::Response;
use domain::equipment::Fault;

use super::{VersionLink, named, origin, plain, position, versions};
use crate::access::SignedIn;
use crate::order::figure;
use crate::page::{PageFault, Shell, show as show_page};
use crate::state::ConsoleState;

#[derive(Template)]
#[template(path = "catalogue/faults.html")]
struct FaultsPage {
    shell: Shell,
    model: String,
    model_href: String,
    origin: String,
    is_general: bool,
    versions: Vec<VersionLink>,
    faults: Vec<FaultRow>,
}

struct FaultRow {
    title: String,
    position: String,
    mode: String,
    rate: String,
    symptoms: String,
    remedy: String,
}

pub(crate) async fn show(
    State(state): State<ConsoleState>,
    SignedIn(caller): SignedIn,
    uri: Uri,
) -> Result<Response, PageFault> {
    let (model, version) = named(&uri)?;
    let found = state.application.ask(&caller, SeeFaults { model, version }).await?;
    let of = &found.kept.entry;
    let at = format!("/catalogue/faults/{}", of.model);
    let mut faults: Vec<&Fault> = of.faults.iter().collect();
    faults.sort_by(|one, other| other.per_year.total_cmp(&one.per_year));
    let page = FaultsPage {
        shell: Shell::of(wording::say("faults-title"), &caller),
        model: plain(of.model.as_str()),
        model_href: format!("/catalogue/models/{}", of.model),
        origin: origin(found.kept.built_in),
        is_general: of.general,
        versions: versions(&at, of.version, found.newest),
        faults: faults.into_iter().map(row).collect(),
    };
    Ok(show_page(StatusCode::OK, &page))
}

fn row(fault: &Fault) -> FaultRow {
    let mut symptoms: Vec<_> = fault.symptoms.iter().collect();
    symptoms.sort_by(|one, other| other.1.total_cmp(one.1));
    let symptoms: Vec<String> = symptoms
        .into_iter()
        .map(|(symptom, share)| {
            let name = wording::term("symptom", symptom.key());
            format!("{name} {}", crate::order::percent(*share))
        })
        .collect();
    let parts: Vec<String> = fault
        .remedy
        .parts
        .iter()
        .map(|need| wording::term("part", need.part.as_str()).into_owned())
        .collect();
    let action = wording::term("action", fault.remedy.action.key()).into_owned();
    FaultRow {
        title: wording::text(fault.title.as_str()).into_owned(),
        position: position(fault.position.key()),
        mode: wording::term("failure-mode", fault.failure_mode.key()).into_owned(),
        rate: figure(fault.per_year),
        symptoms: symptoms.join(", "),
        remedy: if parts.is_empty() { action } else { format!("{action}: {}", parts.join(", ")) },
    }
}
