//! What was found and what was done: proposed from the diagnosis, said by a person.

use application::action_taken::CreateActionTaken;
use application::finding::CreateFinding;
use application::see_visit::{NewActionTaken, NewFinding, VisitFile};
use axum::extract::State;
use axum::http::Uri;
use axum::response::Response;
use domain::diagnosis::{Diagnosis, RankedFault};
use domain::id::TestRunId;
use domain::text::Key;
use domain::vocabulary::{Action, Condition, EvidenceKind, Position};
use uuid::Uuid;

use crate::access::Posted;
use crate::order::diagnosis::percent;
use crate::order::moves::{Ask, carry_out, invalid};
use crate::parts::moves::{Attempt, Input, Move};
use crate::state::ConsoleState;
use crate::when;

/// Faults that are proposed: likely enough, and not too many for a small screen.
const LIKELY: f64 = 0.25;
const PROPOSED: usize = 4;

/// The forms of a visit for what was found and done.
pub(super) struct DoneForms<'a> {
    pub of: &'a VisitFile,
    pub attempt: &'a Attempt,
    pub next_id: &'a dyn Fn() -> Uuid,
}

impl DoneForms<'_> {
    fn to(&self, rest: &str) -> String {
        format!("/day/{}/{rest}", self.of.visit.id)
    }

    fn diagnosis(&self) -> Option<&Diagnosis> {
        self.of.file.diagnosis.as_ref().ok().map(|diagnosed| &diagnosed.diagnosis)
    }

    /// What is likely and nobody has confirmed yet, then anything else.
    pub fn findings(&self) -> Vec<Move> {
        let is_new = |fault: &&RankedFault| {
            let mut confirmed = self.of.file.findings.iter();
            fault.probability >= LIKELY
                && !confirmed.any(|finding| finding.fault_key.as_ref() == Some(&fault.fault))
        };
        let faults = self.diagnosis().into_iter().flat_map(|of| of.faults.iter().chain(&of.external_states));
        let mut faults: Vec<&RankedFault> = faults.filter(is_new).collect();
        faults.sort_by(|one, other| other.probability.total_cmp(&one.probability));
        let proposed = faults.into_iter().take(PROPOSED).map(|fault| self.proposed(fault));
        let mut forms: Vec<Move> = proposed.collect();
        forms.push(self.any_finding());
        forms.into_iter().map(|form| form.after(self.attempt)).collect()
    }

    fn proposed(&self, fault: &RankedFault) -> Move {
        let variables = [
            ("fault", fault.title.to_string().into()),
            ("position", wording::term("position", fault.position.key()).into_owned().into()),
            ("probability", percent(fault.probability).into()),
        ];
        let key = format!("find-{}", fault.fault);
        let form = Move::new(&key, self.to("findings"), wording::say_with("find-proposed", &variables))
            .with("form", &key)
            .with("id", (self.next_id)())
            .with("position", fault.position.key())
            .with("fault", format!("{}:{}", fault.fault, fault.version))
            .with("failure_mode", fault.failure_mode.key());
        let form = self.runs_about(fault.position).into_iter().fold(form, |form, run| form.with("run", run));
        let conditions = [Condition::Failed, Condition::Degraded, Condition::Ok, Condition::Inconclusive];
        let conditions = conditions.map(|of| labelled("condition", of.key()));
        self.because(form.asking(Input::choice("finding", "field-finding", conditions)))
    }

    fn any_finding(&self) -> Move {
        let conditions = Condition::ALL.iter().map(|of| labelled("condition", of.key()));
        let form = Move::new("find-other", self.to("findings"), wording::say("find-other"))
            .with("form", "find-other")
            .with("id", (self.next_id)())
            .asking(self.position())
            .asking(Input::choice("finding", "field-finding", conditions))
            .asking(or_none(
                "failure_mode",
                "field-failure-mode",
                "failure-mode",
                &self.of.terms.failure_modes,
            ));
        self.because(form)
    }

    /// How it is known, and what led to it.
    fn because(&self, form: Move) -> Move {
        let evidence = EvidenceKind::ALL.iter().map(|of| labelled("evidence", of.key()));
        form.asking(Input::choice("evidence", "field-evidence", evidence))
            .asking(or_none("mechanism", "field-mechanism", "mechanism", &self.of.terms.mechanisms))
            .asking(or_none("cause", "field-cause", "cause", &self.of.terms.causes))
            .asking(Input::line("note", "field-note", false))
    }

    /// The positions of this machine and those outside it.
    fn position(&self) -> Input {
        let model = self.of.model.as_deref();
        let is_here =
            |position: &&Position| position.is_external() || model.is_some_and(|model| model.has(**position));
        let here = Position::ALL.iter().filter(is_here).map(|of| labelled("position", of.key()));
        Input::choice("position", "field-position", here)
    }

    /// What was read of a position since the machine was changed last.
    fn runs_about(&self, position: Position) -> Vec<TestRunId> {
        let Ok(verdicts) = &self.of.file.verdicts else { return Vec::new() };
        let about = verdicts.assessment.verdicts.iter().filter(|verdict| verdict.position == Some(position));
        let mut runs: Vec<TestRunId> = about.map(|verdict| verdict.test_run).collect();
        runs.sort_unstable();
        runs.dedup();
        runs
    }

    /// What is decided to be mended, then anything else.
    pub fn actions(&self) -> Vec<Move> {
        let mends = self.diagnosis().into_iter().flat_map(|of| {
            of.next.mend.iter().filter_map(move |mend| {
                let first = mend.faults.first()?;
                let fault =
                    of.faults.iter().chain(&of.external_states).find(|fault| fault.fault == *first)?;
                Some((mend.action, fault.position))
            })
        });
        let mut seen = Vec::new();
        let mut forms = Vec::new();
        for (action, position) in mends {
            if seen.contains(&(action, position)) || action.is_temporary() {
                continue;
            }
            seen.push((action, position));
            let variables = [
                ("action", wording::term("action", action.key()).into_owned().into()),
                ("position", wording::term("position", position.key()).into_owned().into()),
            ];
            let key = format!("act-{action}-{position}");
            let form = Move::new(&key, self.to("actions"), wording::say_with("act-proposed", &variables))
                .with("form", &key)
                .with("id", (self.next_id)())
                .with("position", position.key())
                .with("action", action.key());
            forms.push(self.part(form));
        }
        let actions = self.of.terms.actions.iter().map(|key| labelled("action", key));
        let form = Move::new("act-other", self.to("actions"), wording::say("act-other"))
            .with("form", "act-other")
            .with("id", (self.next_id)())
            .asking(self.position())
            .asking(Input::choice("action", "field-action", actions));
        forms.push(self.part(form).asking(Input::day("ends_on", "field-ends-on")));
        forms.into_iter().map(|form| form.after(self.attempt)).collect()
    }

    /// Which of the order's parts was used, if there are any.
    fn part(&self, form: Move) -> Move {
        if self.of.file.part_lines.is_empty() {
            return form;
        }
        let none = (String::new(), wording::say("no-part"));
        let lines = self.of.file.part_lines.iter().map(|line| {
            let state = wording::term("line-state", line.state.word());
            (line.id.to_string(), format!("{} ({state})", line.part_number))
        });
        form.asking(Input::choice("part_line", "field-part-used", std::iter::once(none).chain(lines)))
    }

    /// How the work on what is decided is done safely.
    pub fn cautions(&self) -> Vec<String> {
        let mends = self.diagnosis().into_iter().flat_map(|of| &of.next.mend);
        let mut cautions: Vec<String> = Vec::new();
        for caution in mends.flat_map(|mend| &mend.cautions) {
            let text = match &caution.regulation {
                Some(rule) => format!("{} ({rule})", caution.text),
                None => caution.text.to_string(),
            };
            if !cautions.contains(&text) {
                cautions.push(text);
            }
        }
        cautions
    }
}

fn labelled(list: &str, key: &str) -> (String, String) {
    (key.to_owned(), wording::term(list, key).into_owned())
}

fn or_none(name: &str, label: &str, list: &str, keys: &[String]) -> Input {
    let none = (String::new(), wording::say("not-said"));
    Input::choice(name, label, std::iter::once(none).chain(keys.iter().map(|key| labelled(list, key))))
}

pub(super) async fn find(State(state): State<ConsoleState>, uri: Uri, posted: Posted) -> Response {
    let form = posted.1.raw("form").to_owned();
    carry_out(&state, posted, &uri, &form, "found", |ask| {
        let condition: Condition = ask.word("finding")?;
        let is_fault = matches!(condition, Condition::Failed | Condition::Degraded);
        // What belongs to a fault is left out of what is none.
        let of_fault = |name| if is_fault { key(ask, name) } else { Ok(None) };
        let runs = ask.fields.all("run").map(|run| {
            let id = run.parse::<Uuid>().ok().and_then(|id| TestRunId::try_from(id).ok());
            id.ok_or_else(|| invalid("run", "fault-field-choice"))
        });
        Ok(CreateFinding(NewFinding {
            id: ask.id("id")?,
            work_order: ask.order,
            position: needed_key(ask, "position")?,
            fault: fault(ask)?,
            finding: Key::new(condition.key()).map_err(|_| invalid("finding", "fault-field-choice"))?,
            failure_mode: of_fault("failure_mode")?,
            mechanism: of_fault("mechanism")?,
            cause: of_fault("cause")?,
            evidence: needed_key(ask, "evidence")?,
            note: ask.words("note")?,
            test_runs: runs.collect::<Result<_, _>>()?,
            found_at: ask.application.now(),
            supersedes: None,
            retraction_reason: None,
        }))
    })
    .await
}

pub(super) async fn act(State(state): State<ConsoleState>, uri: Uri, posted: Posted) -> Response {
    let form = posted.1.raw("form").to_owned();
    carry_out(&state, posted, &uri, &form, "done", |ask| {
        let action = needed_key(ask, "action")?;
        let is_stopgap = action.as_str().parse::<Action>().is_ok_and(Action::is_temporary);
        let ends_on = ask.day("ends_on")?.filter(|_| is_stopgap);
        // A stopgap lasts to the end of its day at the latest.
        let expires_at = match ends_on {
            Some(day) => Some(
                when::of_field(ask.zone, &format!("{day}T23:59"))
                    .ok_or_else(|| invalid("ends_on", "fault-field-day"))?,
            ),
            None if is_stopgap => return Err(invalid("ends_on", "fault-stopgap-without-end")),
            None => None,
        };
        Ok(CreateActionTaken(NewActionTaken {
            id: ask.id("id")?,
            work_order: ask.order,
            position: needed_key(ask, "position")?,
            action,
            part_line: ask.optional_id("part_line")?,
            expires_at,
            taken_at: ask.application.now(),
        }))
    })
    .await
}

fn key(ask: &Ask<'_>, name: &str) -> Result<Option<Key>, application::Refusal> {
    let text = ask.fields.get(name).map(Key::new).transpose();
    text.map_err(|_| invalid(name, "fault-field-choice"))
}

fn needed_key(ask: &Ask<'_>, name: &str) -> Result<Key, application::Refusal> {
    key(ask, name)?.ok_or_else(|| invalid(name, "fault-field-needed"))
}

/// A version of a fault of the machine's model, if one is named.
fn fault(ask: &Ask<'_>) -> Result<Option<(Key, u32)>, application::Refusal> {
    let Some(text) = ask.fields.get("fault") else { return Ok(None) };
    let wrong = || invalid("fault", "fault-field-choice");
    let (key, version) = text.split_once(':').ok_or_else(wrong)?;
    Ok(Some((Key::new(key).map_err(|_| wrong())?, version.parse().map_err(|_| wrong())?)))
}
