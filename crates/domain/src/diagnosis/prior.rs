//! What is known before any reading: that a call was made, with which complaint, and what earlier
//! epochs found.
//!
//! `P(H) ∝ (κ₀·q₀(s) + Σ_{j∈H} κ_j·q_j(s)) · Π_{j∈H} λ_j·d_j`: machines stand with faults in proportion
//! to λ·d, and call at the summed rate of their faults. s is the complaint; without one q is 1.

use super::case::{Case, FoundState};
use super::tables::{HypothesisKind, Tables};

/// Odds of a fault that somebody found and left standing: findings err in about one of thirty.
const ODDS_IF_FOUND: f64 = 30.0;
/// Factor on the odds of a fault that was looked for and not found, or that was mended.
const FACTOR_IF_ABSENT: f64 = 0.05;
/// A complaint that a fault is not known for is still made with this share.
const LEAST_SHARE: f64 = 0.002;

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
        let share = |share: f64| share.max(LEAST_SHARE);
        let mut prior = Self {
            background: catalogue
                .background(case.complaint)
                .max(LEAST_SHARE * catalogue.calls_without_fault.per_year),
            calls: Vec::with_capacity(tables.hypotheses.len()),
            found: vec![1.0; tables.hypotheses.len()],
        };
        // What nobody described is complained of like the faults that are.
        let (mut shares, mut rates) = (0.0, 0.0);
        for hypothesis in &tables.hypotheses {
            if let (HypothesisKind::Fault(fault), Some(symptom)) = (hypothesis.kind, case.complaint) {
                let rate = hypothesis.odds * hypothesis.calls_per_year;
                shares += rate * catalogue.faults[fault].symptom_share(symptom);
                rates += rate;
            }
        }
        let usual = if rates > 0.0 { shares / rates } else { 1.0 };
        for hypothesis in &tables.hypotheses {
            let q = match (hypothesis.kind, case.complaint) {
                (_, None) => 1.0,
                (HypothesisKind::Fault(fault), Some(symptom)) => {
                    share(catalogue.faults[fault].symptom_share(symptom))
                }
                (HypothesisKind::Other, Some(_)) => share(usual),
            };
            prior.calls.push(hypothesis.calls_per_year * q);
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
