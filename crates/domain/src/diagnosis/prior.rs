//! What is known before any reading: that a call was made, with which complaint, and what earlier
//! epochs found.
//!
//! `P(H) ∝ (κ₀·q₀(s) + Σ_{j∈H} κ_j·q_j(s)) · Π_{j∈H} λ_j·d_j`: machines stand with faults in proportion
//! to λ·d, and call at the summed rate of their faults. s is the complaint as it was put down, which is not
//! always the one that was meant; without one q is 1.

use super::case::{Case, FoundState};
use super::tables::{HypothesisKind, Tables};
use crate::equipment::as_named;

/// Odds of a fault that somebody found and left standing: findings err in about one of thirty.
const ODDS_IF_FOUND: f64 = 30.0;
/// Factor on the odds of a fault that was looked for and not found, or that was mended.
const FACTOR_IF_ABSENT: f64 = 0.05;

/// The prior of one case.
pub(super) struct Prior {
    /// κ₀·q₀(s) and the rates of what was mended since the call.
    pub background: f64,
    /// κ·q(s), by hypothesis.
    pub calls: Vec<f64>,
    /// Factor on λ·d, by hypothesis.
    pub found: Vec<f64>,
}

impl Prior {
    pub fn of(tables: &Tables, case: &Case) -> Self {
        let catalogue = tables.catalogue();
        // The complaint as it was put down: one in ten is not what the fault is known for.
        let usual = case.complaint.map_or(1.0, |symptom| catalogue.usual_share(symptom));
        let without_fault = catalogue.calls_without_fault.per_year;
        let mut prior = Self {
            background: as_named(catalogue.background(case.complaint), without_fault * usual),
            calls: Vec::with_capacity(tables.hypotheses.len()),
            found: vec![1.0; tables.hypotheses.len()],
        };
        for hypothesis in &tables.hypotheses {
            let share = match (hypothesis.kind, case.complaint) {
                (_, None) => 1.0,
                (HypothesisKind::Fault(fault), Some(symptom)) => {
                    as_named(catalogue.faults[fault].symptom_share(symptom), usual)
                }
                // What nobody described is complained of like everything.
                (HypothesisKind::Other, Some(_)) => usual,
            };
            prior.calls.push(hypothesis.calls_per_year * share);
        }
        for (index, hypothesis) in tables.hypotheses.iter().enumerate() {
            let HypothesisKind::Fault(fault) = hypothesis.kind else { continue };
            let mut of_fault =
                case.findings.iter().filter(|finding| finding.fault == catalogue.faults[fault].key);
            // The last finding counts.
            let Some(finding) = of_fault.next_back() else { continue };
            prior.found[index] = match finding.state {
                FoundState::Stands => (ODDS_IF_FOUND / hypothesis.odds).max(1.0),
                FoundState::Mended | FoundState::Absent => FACTOR_IF_ABSENT,
            };
            if finding.state == FoundState::Mended {
                prior.background += prior.calls[index];
            }
        }
        prior
    }
}
