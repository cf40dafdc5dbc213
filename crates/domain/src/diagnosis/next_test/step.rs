//! What can be taken: a test that was not done, or the steps that a done one left unread.

use crate::diagnosis::case::{Case, LEVEL_BEFORE};
use crate::diagnosis::tables::Tables;
use crate::equipment::{Mandatory, ObservationKey};
use crate::procedure::{Caution, Precondition, Procedure, Purpose, Reads, Step};
use crate::text::Key;
use crate::vocabulary::Position;
use crate::work::proves;

/// A test to be taken, or what is left of one.
#[derive(Clone)]
pub(in crate::diagnosis) struct ToTake<'a> {
    pub procedure: &'a Procedure,
    /// The steps to be read; none means all of them.
    pub only: Option<Vec<&'a Step>>,
    pub minutes: f64,
}

/// What the rest of a test takes of its minutes at least: most of the way to a reading is the same for one step as for all.
const LEAST_SHARE: f64 = 0.4;

impl<'a> ToTake<'a> {
    pub fn whole(procedure: &'a Procedure) -> Self {
        Self { procedure, only: None, minutes: procedure.minutes }
    }

    /// The step that reads this, if it is to be read; none for recorded series, for which not everybody has the instrument.
    pub fn step(&self, key: &ObservationKey) -> Option<&'a Step> {
        if key.procedure() != self.procedure.key.as_str() {
            return None;
        }
        let step = self.procedure.steps.iter().find(|step| step.key.as_str() == key.step())?;
        let is_left = self.only.as_ref().is_none_or(|steps| steps.iter().any(|of| of.key == step.key));
        (is_left && !matches!(step.reads, Reads::Record { .. })).then_some(step)
    }
}

/// All that is left to take, proofs excepted.
pub(in crate::diagnosis) fn left<'a>(tables: &'a Tables, case: &Case) -> Vec<ToTake<'a>> {
    let candidates = tables.procedures.iter().filter(|procedure| !is_proof_alone(procedure));
    candidates.filter_map(|procedure| left_of(tables, case, procedure)).collect()
}

fn left_of<'a>(tables: &'a Tables, case: &Case, procedure: &'a Procedure) -> Option<ToTake<'a>> {
    if !is_done(case, &procedure.key) {
        return Some(ToTake::whole(procedure));
    }
    let readable = readable(tables, procedure);
    // A test that was done without a reading says nothing of what it left out.
    let is_read = |step: &&Step| {
        case.observations.iter().any(|seen| {
            seen.key.procedure() == procedure.key.as_str() && seen.key.step() == step.key.as_str()
        })
    };
    let unread: Vec<&Step> = readable.iter().copied().filter(|step| !is_read(step)).collect();
    if unread.is_empty() || unread.len() == readable.len() {
        return None;
    }
    let share = unread.len() as f64 / readable.len() as f64;
    let minutes = procedure.minutes * share.max(LEAST_SHARE);
    Some(ToTake { procedure, only: Some(unread), minutes })
}

/// The steps of which the catalogue knows what they tell. What was in the sump before a run cannot be read after it.
fn readable<'a>(tables: &Tables, procedure: &'a Procedure) -> Vec<&'a Step> {
    let measured = tables.catalogue.measurements.iter().map(|of| &of.key);
    let known: Vec<&ObservationKey> =
        measured.chain(tables.catalogue.inspections.iter().map(|of| &of.key)).collect();
    let is_known = |step: &&Step| {
        step.key.as_str() != LEVEL_BEFORE
            && !matches!(step.reads, Reads::Record { .. })
            && known
                .iter()
                .any(|key| key.procedure() == procedure.key.as_str() && key.step() == step.key.as_str())
    };
    procedure.steps.iter().filter(is_known).collect()
}

/// Whether it proves a repair and tells nothing that a shorter test would not.
fn is_proof_alone(procedure: &Procedure) -> bool {
    procedure.needed_for.contains(&Purpose::Proof) && !procedure.needed_for.contains(&Purpose::Diagnosis)
}

pub(in crate::diagnosis) fn is_done(case: &Case, procedure: &Key) -> bool {
    case.done.contains(procedure)
        || case.observations.iter().any(|seen| seen.key.procedure() == procedure.as_str())
}

/// Whether it is done before the job ends, whatever it may tell.
pub(in crate::diagnosis) fn is_due(tables: &Tables, case: &Case, procedure: &Key) -> bool {
    let is_mandatory = tables.catalogue.mandatory.iter().any(|test| {
        test.procedure == *procedure
            && match test.when {
                Mandatory::Always => true,
                Mandatory::AfterWetWork => case.wet_work,
            }
    });
    is_mandatory || proves(procedure, &case.failed_before)
}

/// What must be known before hands go to a position: the cautions of all that is done there dead, and of all
/// that is done there where nothing is.
pub(in crate::diagnosis) fn cautions_at(tables: &Tables, position: Position) -> Vec<Caution> {
    let there: Vec<&Procedure> =
        tables.procedures.iter().filter(|procedure| procedure.positions.contains(&position)).collect();
    let is_any_dead = there.iter().any(|procedure| !procedure.powered);
    let mut cautions: Vec<Caution> = Vec::new();
    for caution in there.iter().filter(|of| !(is_any_dead && of.powered)).flat_map(|of| &of.cautions) {
        if !cautions.iter().any(|known| known.text == caution.text) {
            cautions.push(caution.clone());
        }
    }
    cautions
}

/// The tests that are done before the job ends in any case and are not done yet, proofs among them.
pub(in crate::diagnosis) fn due<'a>(tables: &'a Tables, case: &Case) -> Vec<&'a Procedure> {
    let is_open = |of: &&Procedure| is_due(tables, case, &of.key) && !is_done(case, &of.key);
    tables.procedures.iter().filter(is_open).collect()
}

/// Those of them that come before the proof: what they show is not missed.
pub(in crate::diagnosis) fn due_looks<'a>(tables: &'a Tables, case: &Case) -> Vec<&'a Procedure> {
    due(tables, case).into_iter().filter(|procedure| !is_proof_alone(procedure)).collect()
}

/// What proves that the machine works; done again after whatever is mended.
pub(in crate::diagnosis) fn proofs<'a>(tables: &'a Tables, case: &Case) -> Vec<&'a Procedure> {
    let proves = |of: &&Procedure| is_due(tables, case, &of.key) && is_proof_alone(of);
    tables.procedures.iter().filter(proves).collect()
}

/// A test behind all those that it needs and that are not done, each once, needed ones first.
pub(in crate::diagnosis) fn order<'a>(tables: &'a Tables, case: &Case, of: &ToTake<'a>) -> Vec<ToTake<'a>> {
    fn visit<'a>(tables: &'a Tables, case: &Case, of: ToTake<'a>, order: &mut Vec<ToTake<'a>>, depth: usize) {
        let has = |order: &[ToTake<'a>]| order.iter().any(|have| have.procedure.key == of.procedure.key);
        // Chains of needs are short; a longer one is a circle.
        if depth > 8 || has(order) {
            return;
        }
        for precondition in &of.procedure.preconditions {
            let (Precondition::Read { procedure, .. } | Precondition::Passed { procedure, .. }) =
                precondition
            else {
                continue;
            };
            let needed = tables.procedures.iter().find(|candidate| candidate.key == *procedure);
            if let Some(needed) = needed.filter(|needed| !is_done(case, &needed.key)) {
                visit(tables, case, ToTake::whole(needed), order, depth + 1);
            }
        }
        if !has(order) {
            order.push(of);
        }
    }
    let mut order_of = Vec::new();
    visit(tables, case, of.clone(), &mut order_of, 0);
    order_of
}
