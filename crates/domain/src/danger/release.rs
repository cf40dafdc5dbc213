//! What a technician needs to release a machine from stop-use by himself.

use std::collections::BTreeSet;

use super::{Danger, answered_by, looks};
use crate::equipment::Model;
use crate::evidence::TestRun;
use crate::procedure::Procedure;
use crate::text::Key;

/// What keeps a technician from releasing a machine, in words that say what would be right. A manager or an administrator
/// answers for it without.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Unreleased {
    #[error("the skill {skill}, which {} asks for; or a manager releases it", danger.words())]
    Skill { danger: Danger, skill: &'static str },
    #[error(
        "a healthy reading of {} taken after the stop and after the last action, which looks for {}; or a manager releases it",
        procedure,
        danger.words()
    )]
    Look { danger: Danger, procedure: Key },
    #[error("a manager: nothing that can be read shows that {} is over", danger.words())]
    NothingLooks { danger: Danger },
    #[error("a manager: it was called unsafe without a danger that could be looked for")]
    NoDanger,
}

/// What a technician lacks who would release a machine that was stopped over `dangers`.
///
/// For each danger he needs its skill ([`Danger::skill`]) and, of every procedure that looks for it, a last run that answers
/// it. `runs` are those that count, in any order of which the last of a procedure stands last: taken after the last stop and
/// after the last action that changed the machine, not superseded, not retracted.
pub fn unreleased(
    dangers: &BTreeSet<Danger>,
    skills: &[Key],
    runs: &[&TestRun],
    procedures: &[Procedure],
    model: &Model,
) -> Vec<Unreleased> {
    if dangers.is_empty() {
        return vec![Unreleased::NoDanger];
    }
    let mut lacking = Vec::new();
    for &danger in dangers {
        if let Some(skill) = danger.skill()
            && !skills.iter().any(|has| has.as_str() == skill)
        {
            lacking.push(Unreleased::Skill { danger, skill });
        }
        let mut looked = false;
        for look in looks(danger, procedures, model) {
            looked = true;
            let last = runs.iter().rev().find(|run| run.procedure.key == look.key);
            if !last.is_some_and(|run| answered_by(run, look, model, danger)) {
                lacking.push(Unreleased::Look { danger, procedure: look.key.clone() });
            }
        }
        if !looked {
            lacking.push(Unreleased::NothingLooks { danger });
        }
    }
    lacking
}
