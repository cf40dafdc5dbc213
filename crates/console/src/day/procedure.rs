//! A procedure, from its data alone: first its cautions and what must hold, then its steps.

use application::Refusal;
use application::see_visit::{SeeVisit, VisitFile};
use askama::Template;
use axum::extract::State;
use axum::http::{StatusCode, Uri};
use axum::response::Response;
use domain::id::VisitId;
use domain::procedure::{Precondition, Procedure};

use super::answers::{CONDITIONS, Faults};
use super::defeats::{self, DefeatView};
use super::step::{Control, StepView, views};
use super::tests_left::{self, Standing};
use super::{numbers, visit_in};
use crate::access::SignedIn;
use crate::fields::Fields;
use crate::order::segment;
use crate::page::{PageFault, Shell, show as show_page};
use crate::parts::moves::{Attempt, Choice, Input, Move};
use crate::state::ConsoleState;

/// What is said before it is begun.
#[derive(Template)]
#[template(path = "day/cautions.html")]
struct CautionsPage {
    shell: Shell,
    visit: VisitId,
    machine: String,
    to: String,
    title: String,
    about: String,
    hazards: Vec<String>,
    skills: String,
    cautions: Vec<(String, Option<String>)>,
    needs: Vec<Need>,
    confirms: Vec<(String, String, bool)>,
    /// What has to be true of the machine.
    safe: String,
    refusal: Option<String>,
    /// What a step takes away that protects.
    takes_away: Vec<String>,
    defeat: Option<DefeatView>,
    open_defeat: Option<Move>,
}

/// Something that another procedure should have told before.
struct Need {
    text: String,
    is_met: bool,
    to: String,
}

/// Its steps.
#[derive(Template)]
#[template(path = "day/steps.html")]
struct StepsPage {
    shell: Shell,
    visit: VisitId,
    machine: String,
    to: String,
    title: String,
    /// Names the reading before it is sent, so that sent twice it is kept once.
    id: String,
    version: u32,
    /// Whether a step takes a protection away.
    defeats: bool,
    confirmed: Vec<String>,
    defeat: Option<DefeatView>,
    steps: Vec<StepView>,
    conditions: Vec<ConditionView>,
    refusals: Vec<String>,
}

struct ConditionView {
    name: &'static str,
    label: String,
    value: String,
    units: Vec<Choice>,
}

/// One of the procedures for the visit's machine.
pub(super) fn find<'a>(of: &'a VisitFile, key: &str) -> Result<&'a Procedure, PageFault> {
    of.procedures.iter().find(|procedure| procedure.key.as_str() == key).ok_or(PageFault::NotFound)
}

pub(super) async fn show(
    State(state): State<ConsoleState>,
    SignedIn(caller): SignedIn,
    uri: Uri,
) -> Result<Response, PageFault> {
    let (visit, asked) = (visit_in(&uri)?, Fields::of_query(&uri));
    let of = state.application.ask(&caller, SeeVisit(visit)).await?;
    let procedure = find(&of, segment(&uri, 4))?;
    let shell = Shell::of(text(&procedure.title), &caller);
    if asked.get("begin").is_some() && asked.get("heeded").is_some() {
        let typed = Fields::from(vec![("id".to_owned(), state.application.next_id().to_string())]);
        let page = steps(shell, &of, procedure, &asked, &typed, &Faults::default());
        return Ok(show_page(StatusCode::OK, &page));
    }
    let refusal = asked.get("begin").map(|_| wording::say("cautions-not-heeded"));
    let next_id = || state.application.next_id();
    let page = cautions(shell, &of, procedure, &asked, refusal, &next_id, &Attempt::default());
    Ok(show_page(StatusCode::OK, &page))
}

/// The cautions again, with why a defeat of the interlock was not recorded.
pub(super) fn refused(
    state: &ConsoleState,
    shell: Shell,
    of: &VisitFile,
    procedure: &Procedure,
    attempt: &Attempt,
) -> Response {
    let next_id = || state.application.next_id();
    let page = cautions(shell, of, procedure, &Fields::default(), None, &next_id, attempt);
    show_page(StatusCode::CONFLICT, &page)
}

fn cautions(
    shell: Shell,
    of: &VisitFile,
    procedure: &Procedure,
    asked: &Fields,
    refusal: Option<String>,
    next_id: &dyn Fn() -> uuid::Uuid,
    attempt: &Attempt,
) -> CautionsPage {
    let (visit, key) = (of.visit.id, &procedure.key);
    let takes_away: Vec<String> = procedure
        .defeating_steps()
        .filter_map(|step| {
            Some(format!("{}: {}", text(&step.title), text(&step.interlock_defeat.as_ref()?.what)))
        })
        .collect();
    let defeat = defeats::open_of(of);
    let open_defeat = (!takes_away.is_empty() && defeat.is_none())
        .then(|| defeats::form(of, procedure, next_id).after(attempt));
    let confirms = procedure.preconditions.iter().filter_map(|of| match of {
        Precondition::Confirmed { key, statement, .. } => {
            let was_said = asked.all("confirmed").any(|said| said == key.as_str());
            Some((key.to_string(), text(statement), was_said))
        }
        _ => None,
    });
    let minutes = crate::order::figure(procedure.minutes);
    let count = procedure.steps.len();
    CautionsPage {
        shell,
        visit,
        machine: super::visit::machine(of),
        to: format!("/day/{visit}/procedures/{key}"),
        title: text(&procedure.title),
        about: wording::say_with("procedure-about", &[("minutes", minutes.into()), ("count", count.into())]),
        hazards: if procedure.powered { hazards(of) } else { Vec::new() },
        skills: procedure
            .skills
            .iter()
            .map(|skill| wording::term("skill", skill.as_str()))
            .collect::<Vec<_>>()
            .join(", "),
        cautions: procedure
            .cautions
            .iter()
            .map(|of| (text(&of.text), of.regulation.as_ref().map(ToString::to_string)))
            .collect(),
        needs: needs(of, procedure),
        confirms: confirms.collect(),
        safe: wording::say(if procedure.powered { "safe-under-power" } else { "safe-dead" }),
        refusal,
        takes_away,
        defeat,
        open_defeat,
    }
}

/// Dangers that stand, while nothing under power is advised.
fn hazards(of: &VisitFile) -> Vec<String> {
    let Ok(diagnosed) = &of.file.diagnosis else { return Vec::new() };
    let diagnosis = &diagnosed.diagnosis;
    diagnosis.next.hazards.iter().map(|hazard| wording::diagnosis::of_hazard(diagnosis, hazard)).collect()
}

fn needs(of: &VisitFile, procedure: &Procedure) -> Vec<Need> {
    let title = |key: &domain::text::Key| {
        let known = of.procedures.iter().find(|other| other.key == *key);
        known
            .map_or_else(|| wording::term("procedure", key.as_str()).into_owned(), |known| text(&known.title))
    };
    let need = |precondition: &Precondition| {
        let (other, is_met, text) = match precondition {
            Precondition::Read { procedure, step, .. } => {
                let is_met = tests_left::is_read(of, procedure, step);
                let what = [
                    ("what", wording::term("step", step.as_str()).into_owned().into()),
                    ("test", title(procedure).into()),
                ];
                (procedure, is_met, wording::say_with("need-read", &what))
            }
            Precondition::Passed { procedure, .. } => {
                let is_met = tests_left::standing(of, procedure) == Standing::Keeps;
                (procedure, is_met, wording::say_with("need-passed", &[("test", title(procedure).into())]))
            }
            Precondition::Confirmed { .. } => return None,
        };
        Some(Need { text, is_met, to: format!("/day/{}/procedures/{other}", of.visit.id) })
    };
    procedure.preconditions.iter().filter_map(need).collect()
}

/// Cautions and steps for a phone that has no signal. A defeat of an interlock cannot be recorded there, so that none is
/// offered; ids are made where something is read.
pub(super) fn to_keep(shell: &Shell, of: &VisitFile, known: &Procedure) -> Result<[String; 2], PageFault> {
    let (none, next_id) = (Fields::default(), || uuid::Uuid::nil());
    let cautions = CautionsPage {
        open_defeat: None,
        ..cautions(shell.clone(), of, known, &none, None, &next_id, &Attempt::default())
    };
    let steps = steps(shell.clone(), of, known, &none, &none, &Faults::default());
    let failed = |error: askama::Error| PageFault::Refused(Refusal::Internal(error.to_string()));
    Ok([cautions.render().map_err(failed)?, steps.render().map_err(failed)?])
}

/// The steps again, with what is wrong beside each.
pub(super) fn steps_refused(
    shell: Shell,
    of: &VisitFile,
    procedure: &Procedure,
    typed: &Fields,
    faults: &Faults,
) -> Response {
    show_page(StatusCode::CONFLICT, &steps(shell, of, procedure, typed, typed, faults))
}

fn steps(
    shell: Shell,
    of: &VisitFile,
    procedure: &Procedure,
    asked: &Fields,
    typed: &Fields,
    faults: &Faults,
) -> StepsPage {
    let visit = of.visit.id;
    let defeat = defeats::open_of(of);
    let is_defeated = defeat.as_ref().is_some_and(|defeat| !defeat.is_over);
    let is_corrected = procedure.steps.iter().any(domain::procedure::Step::is_corrected);
    let condition = |(name, kind): (&'static str, domain::quantity::QuantityKind)| ConditionView {
        name,
        label: wording::term("condition-read", name).into_owned(),
        value: typed.raw(&format!("condition:{name}")).to_owned(),
        units: numbers::units(kind, typed.raw(&format!("condition-unit:{name}"))),
    };
    StepsPage {
        shell,
        visit,
        machine: super::visit::machine(of),
        to: format!("/day/{visit}/procedures/{}", procedure.key),
        title: text(&procedure.title),
        id: typed.raw("id").to_owned(),
        version: procedure.version,
        defeats: procedure.defeating_steps().next().is_some(),
        confirmed: asked.all("confirmed").map(str::to_owned).collect(),
        steps: views(procedure, of.file.model.as_deref(), is_defeated, typed, faults),
        conditions: if is_corrected { CONDITIONS.into_iter().map(condition).collect() } else { Vec::new() },
        refusals: faults.of(""),
        defeat,
    }
}

/// What the catalogue says, in the language that is spoken.
fn text<const MIN: usize, const MAX: usize>(of: &domain::text::Text<MIN, MAX>) -> String {
    wording::text(of.as_str()).into_owned()
}
