//! Which parts are at fault, what to test next, what to carry.
//!
//! A diagnosis is computed from all evidence of an epoch at once and never from a verdict: complaint,
//! answers and readings go in, and out come *sets* of faults with honest probabilities, because two
//! parts can be half-working together. See [`Tables`] for what is computed once and [`diagnose`] for
//! what is computed for a case.
//!
//! - **Prior.** `P(H) ∝ (κ₀q₀(s) + Σ_{j∈H} κ_j q_j(s)) · Π_{j∈H} λ_j d_j`: a call was made.
//! - **Likelihood.** The circuit predicts each reading for each severity; what readings share (the
//!   site's pressure, the unit's own valve, pump and heater) is summed out on fixed nodes; errors are
//!   normal with a flat tail, bounds take survival terms, inspections confusion matrices, answers
//!   noisy-OR.
//! - **Posterior.** Exact over all sets with up to four faults in each subsystem, severities summed
//!   out: `Z = κ₀q₀·ΠA_r + Σ_r B_r·Π_{s≠r} A_s` under the shared nodes, which are summed outside.
//!
//! No published source: the model is the project's own; the arithmetic is checked against enumeration
//! and against exact inference by general-purpose libraries.

mod answer;
mod case;
mod circuit;
mod contradiction;
mod elimination;
mod evidence;
mod explanation;
mod hazard;
mod identity;
pub mod learning;
mod likelihood;
mod look_alikes;
mod mixture;
mod next_test;
mod node;
mod parts;
mod posterior;
mod prior;
pub mod scores;
mod sentence;
mod statement;
mod tables;
pub mod telling;
mod weighing;

pub use answer::{Diagnosis, Expected, ExplainedReading, LookAlikes, Note, RankedFault, RankedSet, ReadAs};
pub use case::{
    Case, FoundState, Gathered, Intake, Number, Observation, Observed, PriorFinding, ReadingConditions,
    RunReadings, Standing, gather,
};
pub use evidence::{Repeats, SetAside};
pub use hazard::Hazard;
pub use identity::ENGINE_VERSION;
pub use learning::{ClosedJob, Exposure, JobFinding, Knowledge, gets_full_checklist};
pub use mixture::{Possible, diagnose_one_of};
pub use next_test::{Advice, DoAndReadAgain, Mend, NextTest, Outcome, StepToRead, TestAdvice, TestToDo};
pub use parts::{CarryLimits, PartAdvice, PartsToCarry};
pub use statement::{Stated, Statement};
pub use tables::{Resolution, Tables};

use std::collections::BTreeSet;

use evidence::Evidence;
use posterior::{Depth, Posterior};
use prior::Prior;
use tables::HypothesisKind;
use weighing::Weighing;

use crate::equipment::Subsystem;
use crate::text::Key;

/// P(other) from which an answer says that something outside the catalogue is likely.
const OUTSIDE: f64 = 0.3;

/// The full diagnosis of a case. Always an answer: what could not be used is named in it.
pub fn diagnose(tables: &Tables, case: &Case) -> Diagnosis {
    weighed(tables, case, &[], Depth::USUAL, |weighing, posterior, left_out| {
        let evidence = weighing.evidence;
        let readings = explanation::readings(weighing, posterior, case);
        let mut notes = first_notes(tables, case);
        notes.extend(explanation::notes(&readings));
        notes.extend(limits(tables, case, evidence, posterior));
        if left_out {
            notes.push(Note::ReadingsLeftOut);
        }
        Diagnosis {
            engine_version: ENGINE_VERSION,
            knowledge_sha256: tables.identity().to_owned(),
            input_sha256: input_sha256(tables, case),
            epoch: case.epoch,
            sets: ranked_sets(tables, posterior),
            faults: ranked_faults(tables, posterior, false),
            external_states: ranked_faults(tables, posterior, true),
            machine_sound: posterior.machine_sound,
            nothing_found: posterior.nothing,
            other: other(tables, posterior),
            readings,
            look_alikes: look_alikes_of(weighing, posterior),
            next: advice(tables, case, evidence),
            parts: parts::to_carry(weighing, posterior),
            notes,
            set_aside: evidence.set_aside.clone(),
            repeats: evidence.repeats.clone(),
        }
    })
}

/// SHA-256, in hexadecimal, of the canonical input of a diagnosis: the key under which it may be kept.
pub fn input_sha256(tables: &Tables, case: &Case) -> String {
    identity::of_input(tables.identity(), case)
}

/// Probabilities alone, without explanation, tests and parts.
#[derive(Debug, Clone, PartialEq)]
pub struct Probabilities {
    pub sets: Vec<RankedSet>,
    /// Every fault and external state of the catalogue that can arise.
    pub faults: Vec<(Key, f64)>,
    pub machine_sound: f64,
    pub nothing_found: f64,
    pub other: f64,
    /// Natural logarithm of the likelihood of the evidence, up to a constant of the knowledge.
    pub log_evidence: f64,
}

/// The posterior of a case.
pub fn probabilities(tables: &Tables, case: &Case) -> Probabilities {
    probabilities_to(tables, case, Depth::USUAL)
}

/// The posterior of a case, with all sets down to this probability, at most `most` of them.
pub fn probabilities_down_to(
    tables: &Tables,
    case: &Case,
    least_probability: f64,
    most: usize,
) -> Probabilities {
    probabilities_to(tables, case, Depth { least_probability, most })
}

fn probabilities_to(tables: &Tables, case: &Case, depth: Depth) -> Probabilities {
    weighed(tables, case, &[], depth, |weighing, posterior, _| Probabilities {
        sets: ranked_sets(tables, posterior),
        faults: tables
            .hypotheses
            .iter()
            .zip(&posterior.marginals)
            .filter_map(|(hypothesis, probability)| match hypothesis.kind {
                HypothesisKind::Fault(fault) => {
                    Some((tables.catalogue.faults[fault].key.clone(), *probability))
                }
                HypothesisKind::Other => None,
            })
            .collect(),
        machine_sound: posterior.machine_sound,
        nothing_found: posterior.nothing,
        other: other(tables, posterior),
        log_evidence: posterior.z.ln() + weighing.parts.iter().map(|part| part.log_scale).sum::<f64>(),
    })
}

/// P(these faults stand and nothing else), look-alikes taken as one and what stands in a subsystem
/// beside something that nobody described left open: no reading tells of it.
pub fn probability_of_set(
    tables: &Tables,
    case: &Case,
    faults: &BTreeSet<Key>,
    other_in: &BTreeSet<Subsystem>,
) -> f64 {
    let one_of_its_like = |member: usize| {
        let group = tables.look_alikes.iter().find(|group| group.contains(&member));
        let subsystem = |of: usize| tables.hypotheses[of].subsystem;
        let first =
            |group: &Vec<usize>| group.iter().copied().find(|other| subsystem(*other) == subsystem(member));
        group.and_then(first).unwrap_or(member)
    };
    let standing: BTreeSet<usize> = tables
        .hypotheses
        .iter()
        .enumerate()
        .filter(|(_, hypothesis)| match hypothesis.kind {
            HypothesisKind::Fault(fault) => {
                faults.contains(&tables.catalogue.faults[fault].key)
                    && !other_in.contains(&hypothesis.subsystem)
            }
            HypothesisKind::Other => other_in.contains(&hypothesis.subsystem),
        })
        .map(|(index, _)| one_of_its_like(index))
        .collect();
    weighed(tables, case, &[], Depth::NONE, |weighing, posterior, _| {
        let whole: Vec<_> = weighing.parts.iter().map(|part| part.table(|_| true)).collect();
        posterior::share_by_part(weighing, &whole, posterior.z, |part, members| {
            let of = &tables.subsystems[part];
            let stand: BTreeSet<usize> = members.iter().map(|member| one_of_its_like(*member)).collect();
            stand.iter().eq(standing.iter().filter(|member| of.members.contains(member)))
        })
    })
}

/// The next test alone, without explanation and parts.
pub fn next_test(tables: &Tables, case: &Case) -> NextTest {
    let foreseen = next_test::to_foresee(tables, case);
    weighed(tables, case, &foreseen, Depth::NONE, |weighing, posterior, _| {
        next_test::advise(weighing, posterior, case)
    })
}

/// The parts that make the next visit most probably the last within these limits, and that probability.
pub fn parts_within(tables: &Tables, case: &Case, limits: CarryLimits) -> (Vec<Key>, f64) {
    weighed(tables, case, &[], Depth::USUAL, |weighing, posterior, _| {
        parts::within(weighing, posterior, limits)
    })
}

/// Weighs the evidence of a case, with measurements to be foreseen, and hands on what came of it, and
/// whether the readings had to be left out because they are together beyond the range of numbers.
fn weighed<T>(
    tables: &Tables,
    case: &Case,
    foreseen: &[usize],
    depth: Depth,
    then: impl Fn(&Weighing, &Posterior, bool) -> T,
) -> T {
    let evidence = evidence::take(tables, case);
    let weighing = weigh(tables, case, &evidence, foreseen);
    let posterior = Posterior::of(&weighing, depth);
    if posterior.z.is_finite() && posterior.z > 0.0 {
        return then(&weighing, &posterior, false);
    }
    let none = Evidence { set_aside: evidence.set_aside, repeats: evidence.repeats, ..Evidence::none() };
    let weighing = weigh(tables, case, &none, foreseen);
    then(&weighing, &Posterior::of(&weighing, depth), true)
}

fn weigh<'a>(tables: &'a Tables, case: &Case, evidence: &'a Evidence, foreseen: &[usize]) -> Weighing<'a> {
    let prior = Prior::of(tables, case);
    Weighing::new(tables, evidence, prior.calls, prior.background, prior.found, foreseen)
}

fn advice(tables: &Tables, case: &Case, evidence: &Evidence) -> NextTest {
    let foreseeing = weigh(tables, case, evidence, &next_test::to_foresee(tables, case));
    next_test::advise(&foreseeing, &Posterior::of(&foreseeing, Depth::NONE), case)
}

fn ranked_sets(tables: &Tables, posterior: &Posterior) -> Vec<RankedSet> {
    let ranked = |set: &posterior::ProbableSet| {
        let mut ranked = RankedSet {
            faults: Vec::new(),
            external_states: Vec::new(),
            other_in: Vec::new(),
            probability: set.probability,
        };
        for member in &set.members {
            let hypothesis = &tables.hypotheses[*member];
            match hypothesis.kind {
                HypothesisKind::Fault(fault) => {
                    let fault = &tables.catalogue.faults[fault];
                    let list =
                        if fault.is_external() { &mut ranked.external_states } else { &mut ranked.faults };
                    list.push(fault.key.clone());
                }
                HypothesisKind::Other => ranked.other_in.push(hypothesis.subsystem),
            }
        }
        ranked
    };
    posterior.sets.iter().map(ranked).collect()
}

fn ranked_faults(tables: &Tables, posterior: &Posterior, external: bool) -> Vec<RankedFault> {
    let mut ranked: Vec<RankedFault> = tables
        .hypotheses
        .iter()
        .zip(&posterior.marginals)
        .filter_map(|(hypothesis, probability)| match hypothesis.kind {
            HypothesisKind::Fault(fault) => Some((&tables.catalogue.faults[fault], *probability)),
            HypothesisKind::Other => None,
        })
        .filter(|(fault, _)| fault.is_external() == external)
        .map(|(fault, probability)| RankedFault {
            fault: fault.key.clone(),
            version: fault.version,
            title: fault.title.clone(),
            position: fault.position,
            failure_mode: fault.failure_mode,
            probability,
            action: fault.remedy.action,
            parts: fault.remedy.parts.iter().map(|need| need.part.clone()).collect(),
        })
        .collect();
    ranked.sort_by(|a, b| b.probability.total_cmp(&a.probability).then_with(|| a.fault.cmp(&b.fault)));
    ranked
}

/// P(something undescribed stands), at most the sum over the subsystems.
fn other(tables: &Tables, posterior: &Posterior) -> f64 {
    let others = tables
        .hypotheses
        .iter()
        .zip(&posterior.marginals)
        .filter(|(hypothesis, _)| hypothesis.kind == HypothesisKind::Other);
    others.map(|(_, probability)| probability).sum::<f64>().min(1.0)
}

/// Look-alikes less probable than this are not named.
const ALIKE: f64 = 0.1;

fn look_alikes_of(weighing: &Weighing, posterior: &Posterior) -> Vec<LookAlikes> {
    let tables = weighing.tables;
    let whole: Vec<_> = weighing.parts.iter().map(|part| part.table(|_| true)).collect();
    tables
        .look_alikes
        .iter()
        .map(|group| LookAlikes {
            faults: group
                .iter()
                .filter_map(|index| match tables.hypotheses[*index].kind {
                    HypothesisKind::Fault(fault) => Some(tables.catalogue.faults[fault].key.clone()),
                    HypothesisKind::Other => None,
                })
                .collect(),
            probability: 1.0
                - posterior::share(weighing, &whole, posterior.z, |members| {
                    !members.iter().any(|member| group.contains(member))
                }),
        })
        .filter(|alike| alike.probability >= ALIKE)
        .collect()
}

/// A complaint that no fault makes more often than this is one that nothing is known for.
const KNOWN_FOR: f64 = 0.005;

/// What stands in front, whatever is most probable: dangers, and readings that cannot all be right.
fn first_notes(tables: &Tables, case: &Case) -> Vec<Note> {
    let hazards = hazard::standing(tables, case);
    let mut notes: Vec<Note> =
        (!hazards.is_empty()).then_some(Note::Danger { hazards }).into_iter().collect();
    let wrong = contradiction::of_nature(tables, case).into_iter();
    let wrong = wrong.chain(contradiction::of_repeats(tables, case));
    notes.extend(wrong.map(|keys| Note::Contradiction { keys }));
    let is_known = |complaint| {
        let named = |fault: &crate::equipment::Fault| {
            fault.symptoms.get(&complaint).is_some_and(|of| *of > KNOWN_FOR)
        };
        tables.catalogue.faults.iter().any(named)
    };
    let unknown = case.complaint.filter(|complaint| !is_known(*complaint));
    notes.extend(unknown.map(|complaint| Note::ComplaintUnknown { complaint }));
    notes
}

/// What limits the answer beside the readings themselves.
fn limits(tables: &Tables, case: &Case, evidence: &Evidence, posterior: &Posterior) -> Vec<Note> {
    let mut notes = Vec::new();
    let is_answer = |seen: &evidence::ChoiceEvidence| {
        tables.catalogue.inspections[seen.inspection].key.procedure() == "intake"
    };
    if evidence.numbers.is_empty() && evidence.choices.iter().all(is_answer) {
        let is_anything_known = case.complaint.is_some() || !evidence.choices.is_empty();
        notes.push(if is_anything_known { Note::NothingRead } else { Note::NothingKnown });
    }
    let probability = other(tables, posterior);
    if probability > OUTSIDE {
        notes.push(Note::OutsideTheCatalogue { probability });
    }
    let idle: Vec<Key> = tables
        .catalogue
        .faults
        .iter()
        .filter(|fault| fault.odds() <= 0.0)
        .map(|fault| fault.key.clone())
        .collect();
    if !idle.is_empty() {
        notes.push(Note::NeverConsidered { faults: idle });
    }
    let unknown: BTreeSet<Key> = case
        .findings
        .iter()
        .filter(|finding| tables.catalogue.fault(finding.fault.as_str()).is_none())
        .map(|finding| finding.fault.clone())
        .collect();
    if !unknown.is_empty() {
        notes.push(Note::UnknownFinding { faults: unknown.into_iter().collect() });
    }
    notes
}

#[cfg(test)]
mod tests;
