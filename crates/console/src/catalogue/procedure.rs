use application::see_catalogue::SeeProcedure;
use askama::Template;
use axum::extract::State;
use axum::http::{StatusCode, Uri};
use axum::response::Response;
use domain::procedure::{Precondition, Procedure};
use domain::text::Key;

use super::{VersionLink, named, origin, position, versions};
use crate::access::SignedIn;
use crate::page::{PageFault, Shell, show as show_page};
use crate::state::ConsoleState;

#[derive(Template)]
#[template(path = "catalogue/procedure.html")]
struct ProcedurePage {
    shell: Shell,
    title: String,
    about: String,
    origin: String,
    versions: Vec<VersionLink>,
    skills: String,
    positions: String,
    needs: Vec<String>,
    cautions: Vec<(String, Option<String>)>,
    steps: Vec<StepRow>,
}

struct StepRow {
    title: String,
    instruction: String,
    is_optional: bool,
    defeats: Option<String>,
}

pub(crate) async fn show(
    State(state): State<ConsoleState>,
    SignedIn(caller): SignedIn,
    uri: Uri,
) -> Result<Response, PageFault> {
    let (key, version) = named(&uri)?;
    let found = state.application.ask(&caller, SeeProcedure { key, version }).await?;
    // Places in its sentences are filled as on a phone, for no machine in particular.
    let of = found.kept.entry.shown(None);
    let at = format!("/catalogue/procedures/{}", of.key);
    let minutes = format!("{:.0}", of.minutes);
    let about = [("minutes", minutes.into()), ("count", of.steps.len().into())];
    let positions: Vec<String> = of.positions.iter().map(|of| position(of.key())).collect();
    let skills: Vec<String> =
        of.skills.iter().map(|skill| wording::term("skill", skill.as_str()).into_owned()).collect();
    let page = ProcedurePage {
        shell: Shell::of(wording::text(of.title.as_str()).into_owned(), &caller),
        title: wording::text(of.title.as_str()).into_owned(),
        about: wording::say_with("procedure-about", &about),
        origin: origin(found.kept.built_in),
        versions: versions(&at, of.version, found.newest),
        skills: skills.join(", "),
        positions: positions.join(", "),
        needs: needs(&of),
        cautions: of
            .cautions
            .iter()
            .map(|caution| {
                (
                    wording::text(caution.text.as_str()).into_owned(),
                    caution.regulation.as_ref().map(ToString::to_string),
                )
            })
            .collect(),
        steps: of
            .steps
            .iter()
            .map(|step| StepRow {
                title: wording::text(step.title.as_str()).into_owned(),
                instruction: wording::text(step.instruction.as_str()).into_owned(),
                is_optional: step.optional,
                defeats: step
                    .interlock_defeat
                    .as_ref()
                    .map(|defeat| wording::text(defeat.what.as_str()).into_owned()),
            })
            .collect(),
    };
    Ok(show_page(StatusCode::OK, &page))
}

fn needs(procedure: &Procedure) -> Vec<String> {
    let word = |list: &str, key: &Key| wording::term(list, key.as_str()).into_owned().into();
    let need = |of: &Precondition| match of {
        Precondition::Read { procedure, step, .. } => {
            let variables = [("what", word("step", step)), ("test", word("procedure", procedure))];
            wording::say_with("need-read", &variables)
        }
        Precondition::Passed { procedure, .. } => {
            wording::say_with("need-passed", &[("test", word("procedure", procedure))])
        }
        Precondition::Confirmed { statement, .. } => wording::text(statement.as_str()).into_owned(),
    };
    procedure.preconditions.iter().map(need).collect()
}
