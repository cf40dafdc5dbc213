//! Wash runs solved once on a grid of flows for each leak and level that comes up.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use simulator::cases::catalogue::circuit::Circuit;

/// Flow at the start, L/s, by factors; flow after the fade over the flow before, evenly.
const FLOWS: usize = 36;
const LEAST_FLOW: f64 = 0.03;
const STEP: f64 = 1.1;
const FADES: usize = 41;

/// First fall, s, and share of the last fifth, by flow and fade.
pub(super) type Courses = Arc<Vec<(f64, f64)>>;

#[derive(Default)]
pub(super) struct WashRuns {
    /// By when the pump fades, leak and level.
    solved: Mutex<HashMap<[u64; 3], Courses>>,
}

impl WashRuns {
    pub fn courses(&self, circuit: &Circuit, fades_s: f64, leak: f64, level_l: f64) -> Courses {
        let key = [fades_s, leak, level_l].map(f64::to_bits);
        let known = self.solved.lock().unwrap_or_else(PoisonError::into_inner).get(&key).cloned();
        if let Some(known) = known {
            return known;
        }
        let mut courses = Vec::with_capacity(FLOWS * FADES);
        for flow in 0..FLOWS {
            let first = LEAST_FLOW * STEP.powf(flow as f64);
            for fade in 0..FADES {
                let faded = first * fade as f64 / (FADES - 1) as f64;
                courses.push(circuit.wash_run(first, faded, fades_s, leak, level_l));
            }
        }
        let courses: Courses = Arc::new(courses);
        self.solved.lock().unwrap_or_else(PoisonError::into_inner).insert(key, courses.clone());
        courses
    }
}

/// Between the solved runs: a run that holds or does not is taken from its nearest neighbour.
pub(super) fn course(courses: &[(f64, f64)], first: f64, faded: f64) -> (f64, f64) {
    if first <= 0.0 {
        return (0.0, 0.0);
    }
    let flow = ((first / LEAST_FLOW).ln() / STEP.ln()).clamp(0.0, (FLOWS - 1) as f64);
    let fade = (faded / first * (FADES - 1) as f64).clamp(0.0, (FADES - 1) as f64);
    let at = |flow: usize, fade: usize| courses[flow * FADES + fade];
    let nearest = at(flow.round() as usize, fade.round() as usize);
    let (row, column) = ((flow as usize).min(FLOWS - 2), (fade as usize).min(FADES - 2));
    let (x, y) = (flow - row as f64, fade - column as f64);
    let corners = [
        (at(row, column), (1.0 - x) * (1.0 - y)),
        (at(row, column + 1), (1.0 - x) * y),
        (at(row + 1, column), x * (1.0 - y)),
        (at(row + 1, column + 1), x * y),
    ];
    let share = corners.iter().map(|((_, share), weight)| weight * share).sum();
    if nearest.0.is_infinite() || corners.iter().any(|((fall, _), _)| fall.is_infinite() || *fall <= 0.0) {
        return (nearest.0, share);
    }
    let fall: f64 = corners.iter().map(|((fall, _), weight)| weight * fall.ln()).sum();
    (fall.exp(), share)
}
