use super::tensor::{Places, RowLikelihoods};
use super::{Part, Weighing};
use crate::diagnosis::elimination::Table;
use crate::diagnosis::tables::View;

/// What one set of a subsystem makes of one reading.
#[derive(Debug, Clone, Copy, Default)]
pub(in crate::diagnosis) struct ReadingUnderSet {
    /// P(misread).
    pub misread: f64,
    /// Mean and standard deviation of the prediction, on the scale; the reading's own error apart.
    pub mean: f64,
    pub deviation: f64,
    /// P(never, or nothing at all): predictions without a finite value.
    pub without_value: f64,
}

impl Part {
    /// Every reading of the subsystem under one of its sets, given what the rest of the case makes of
    /// the shared nodes; each with its index into the evidence's numbers.
    pub fn readings_under(
        &self,
        weighing: &Weighing,
        set: usize,
        environment: &Table,
    ) -> Vec<(usize, ReadingUnderSet)> {
        let view = weighing.tables.view(self.subsystem, self.view);
        let reached = &view.reached[set];
        let calls = self.calls[set];
        // How much each combination of on and off tensor counts, beside what the states say.
        let mut shares = [vec![0.0; self.on.size], vec![0.0; self.off.size]];
        let mut sums = [self.on.sum(reached), self.off.sum(reached)];
        for sum in sums.iter_mut().flatten().filter(|sum| **sum <= 0.0) {
            *sum = f64::MIN_POSITIVE;
        }
        for (index, combination) in self.layout.combinations.iter().enumerate() {
            let environment = environment[index];
            let posterior =
                self.weights[set * self.size + index] * (environment.all + calls * environment.calls);
            let (side, at) = if combination.is_on { (0, combination.on) } else { (1, combination.off) };
            shares[side][at] += posterior / sums[side][at];
        }
        self.likelihoods
            .iter()
            .map(|likelihood| (likelihood.number, self.reading_under(view, reached, likelihood, &shares)))
            .collect()
    }

    fn reading_under(
        &self,
        view: &View,
        reached: &[(u32, f64)],
        likelihood: &RowLikelihoods,
        shares: &[Vec<f64>; 2],
    ) -> ReadingUnderSet {
        let (mut total, mut misread, mut finite, mut first, mut second) = (0.0, 0.0, 0.0, 0.0, 0.0);
        let by_level = likelihood.per_row > 1;
        for (tensor, shares, on) in [(&self.on, &shares[0], true), (&self.off, &shares[1], false)] {
            let Some(places) = Places::new(view, likelihood.measurement, by_level, tensor, on) else {
                continue;
            };
            for (state, probability) in reached {
                let state = *state as usize;
                for (combination, share) in shares.iter().enumerate() {
                    let mass = probability * share * tensor.of(state)[combination];
                    let place = places.of(state, combination);
                    let predicted = likelihood.predicted[place];
                    total += mass;
                    misread += mass * likelihood.misread[place] / likelihood.totals[place];
                    if predicted.is_finite() {
                        finite += mass;
                        first += mass * predicted;
                        second += mass * predicted * predicted;
                    }
                }
            }
        }
        if total <= 0.0 {
            return ReadingUnderSet::default();
        }
        let mean = if finite > 0.0 { first / finite } else { 0.0 };
        let variance = if finite > 0.0 { (second / finite - mean * mean).max(0.0) } else { 0.0 };
        ReadingUnderSet {
            misread: misread / total,
            mean,
            deviation: variance.sqrt(),
            without_value: 1.0 - finite / total,
        }
    }
}
