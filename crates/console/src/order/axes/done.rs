//! What was done: proposed from what is decided to be mended, said by a person.

use super::Maker;
use super::found::labelled;
use crate::order::diagnosis::caution;
use crate::parts::moves::{Input, Move};

impl Maker<'_> {
    /// What is decided to be mended, then anything else.
    pub fn actions(&self) -> Vec<Move> {
        if !self.may_still("create_action_taken") || self.file.appliance.is_none() {
            return Vec::new();
        }
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
            forms.push(self.part_used(form));
        }
        let actions = self.file.choices.actions.iter().map(|key| labelled("action", key));
        let form = Move::new("act-other", self.to("actions"), wording::say("act-other"))
            .with("form", "act-other")
            .with("id", (self.next_id)())
            .asking(self.position())
            .asking(Input::choice("action", "field-action", actions));
        forms.push(self.part_used(form).asking(Input::day("ends_on", "field-ends-on")));
        forms.into_iter().map(|form| form.after(self.attempt)).collect()
    }

    /// Which of the order's parts was used, if there are any.
    fn part_used(&self, form: Move) -> Move {
        if self.file.part_lines.is_empty() {
            return form;
        }
        let none = (String::new(), wording::say("no-part"));
        let lines = self.file.part_lines.iter().map(|line| {
            let state = wording::term("line-state", line.state.word());
            (line.id.to_string(), format!("{} ({state})", line.part_number))
        });
        form.asking(Input::choice("part_line", "field-part-used", std::iter::once(none).chain(lines)))
    }

    /// How the work on what is decided is done safely, but for what the page has `said` already.
    pub fn cautions(&self, said: &[String]) -> Vec<String> {
        let mends = self.diagnosis().into_iter().flat_map(|of| &of.next.mend);
        let mut cautions: Vec<String> = Vec::new();
        for text in mends.flat_map(|mend| &mend.cautions).map(caution) {
            if !said.contains(&text) && !cautions.contains(&text) {
                cautions.push(text);
            }
        }
        cautions
    }
}
