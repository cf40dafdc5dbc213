//! What was found: proposed from the diagnosis, said by a person, taken back by a person.

use application::see_order::StandingFinding;
use domain::diagnosis::{Diagnosis, RankedFault};
use domain::id::TestRunId;
use domain::vocabulary::{Condition, EvidenceKind, Position};

use super::{Item, Maker};
use crate::order::diagnosis::percent;
use crate::order::history;
use crate::parts::moves::{Input, Move};

/// Faults that are proposed: likely enough, and not too many for a small screen.
const LIKELY: f64 = 0.25;
const PROPOSED: usize = 4;

impl Maker<'_> {
    pub(super) fn diagnosis(&self) -> Option<&Diagnosis> {
        self.file.diagnosis.as_ref().ok().map(|diagnosed| &diagnosed.diagnosis)
    }

    /// What stands, each with the way to take it back.
    pub fn found(&self) -> Vec<Item> {
        let is_open = self.may_still("create_finding");
        let item = |finding: &StandingFinding| {
            let moves = if is_open { vec![self.taking_back(finding)] } else { Vec::new() };
            let at = Some(self.clock(finding.found_at));
            Item { at, text: history::found_in_words(self.file, finding), moves, ..Item::default() }
        };
        self.file.findings.iter().map(item).collect()
    }

    fn taking_back(&self, finding: &StandingFinding) -> Move {
        let key = format!("take-back-{}", finding.id);
        let to = self.to(&format!("findings/{}/take-back", finding.id));
        Move::new(&key, to, wording::say("find-take-back"))
            .with("form", &key)
            .with("id", (self.next_id)())
            .with("position", &finding.position)
            .with("finding", &finding.finding)
            .with("evidence", &finding.evidence)
            .asking(Input::line("why", "field-taken-back", true))
            .after(self.attempt)
    }

    /// What is likely and nobody has said anything of yet, then anything else.
    pub fn findings(&self) -> Vec<Move> {
        if !self.may_still("create_finding") || self.file.appliance.is_none() {
            return Vec::new();
        }
        let is_new = |fault: &&RankedFault| {
            let mut known = self.file.findings.iter();
            fault.probability >= LIKELY
                && !known.any(|finding| finding.fault_key.as_ref() == Some(&fault.fault))
        };
        let faults = self.diagnosis().into_iter().flat_map(|of| of.faults.iter().chain(&of.external_states));
        let mut faults: Vec<&RankedFault> = faults.filter(is_new).collect();
        faults.sort_by(|one, other| other.probability.total_cmp(&one.probability));
        let mut forms: Vec<Move> =
            faults.into_iter().take(PROPOSED).map(|fault| self.proposed(fault)).collect();
        forms.push(self.any_finding());
        forms.into_iter().map(|form| form.after(self.attempt)).collect()
    }

    fn proposed(&self, fault: &RankedFault) -> Move {
        let variables = [
            ("fault", wording::text(fault.title.as_str()).into_owned().into()),
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
        let runs: Vec<String> = self.runs_about(fault.position).iter().map(ToString::to_string).collect();
        let form = if runs.is_empty() { form } else { form.with("run", runs.join(" ")) };
        let conditions = [Condition::Failed, Condition::Degraded, Condition::Ok, Condition::Inconclusive];
        let conditions = conditions.map(|of| labelled("condition", of.key()));
        self.because(form.asking(Input::choice("finding", "field-finding", conditions)))
    }

    fn any_finding(&self) -> Move {
        let conditions = Condition::ALL.iter().map(|of| labelled("condition", of.key()));
        let modes = &self.file.choices.failure_modes;
        let form = Move::new("find-other", self.to("findings"), wording::say("find-other"))
            .with("form", "find-other")
            .with("id", (self.next_id)())
            .asking(self.position())
            .asking(Input::choice("finding", "field-finding", conditions))
            .asking(or_none("failure_mode", "field-failure-mode", "failure-mode", modes));
        self.because(form)
    }

    /// How it is known, and what led to it.
    fn because(&self, form: Move) -> Move {
        let evidence = EvidenceKind::ALL.iter().map(|of| labelled("evidence", of.key()));
        let choices = &self.file.choices;
        form.asking(Input::choice("evidence", "field-evidence", evidence))
            .asking(or_none("mechanism", "field-mechanism", "mechanism", &choices.mechanisms))
            .asking(or_none("cause", "field-cause", "cause", &choices.causes))
            .asking(Input::line("note", "field-note", false))
    }

    /// The positions of this machine and those outside it.
    pub(super) fn position(&self) -> Input {
        let model = self.file.model.as_deref();
        let is_here =
            |position: &&Position| position.is_external() || model.is_some_and(|model| model.has(**position));
        let here = Position::ALL.iter().filter(is_here).map(|of| labelled("position", of.key()));
        Input::choice("position", "field-position", here)
    }

    /// What was read of a position since the machine was changed last.
    fn runs_about(&self, position: Position) -> Vec<TestRunId> {
        let Ok(verdicts) = &self.file.verdicts else { return Vec::new() };
        let about = verdicts.assessment.verdicts.iter().filter(|verdict| verdict.position == Some(position));
        let mut runs: Vec<TestRunId> = about.map(|verdict| verdict.test_run).collect();
        runs.sort_unstable();
        runs.dedup();
        runs
    }
}

pub(super) fn labelled(list: &str, key: &str) -> (String, String) {
    (key.to_owned(), wording::term(list, key).into_owned())
}

fn or_none(name: &str, label: &str, list: &str, keys: &[String]) -> Input {
    let none = (String::new(), wording::say("not-said"));
    Input::choice(name, label, std::iter::once(none).chain(keys.iter().map(|key| labelled(list, key))))
}
