//! What a test may show, how probably, and what it would leave of the loss.

use super::step::ToTake;
use super::units::{Loss, Unit, units};
use crate::diagnosis::case::Case;
use crate::diagnosis::elimination::{Dual, Table};
use crate::diagnosis::evidence::grid_error;
use crate::diagnosis::likelihood::on_scale;
use crate::diagnosis::posterior::Posterior;
use crate::diagnosis::weighing::{Factors, Foresight, MOST_SIGHTS, Part, Sight, Weighing, threshold_weights};
use crate::quantity::Scale;

/// Outcomes of the readings of one test that are weighed together in one subsystem.
const MOST_OUTCOMES: usize = 75;
/// Sets and node values of less probability than this hardly move an expectation.
const NEGLIGIBLE: f64 = 2e-5;
/// Faults whose loss is less than this many minutes are left out.
const NEGLIGIBLE_LOSS: f64 = 0.5;
/// Where the outcomes of a number part: standard deviations from what is most probably read.
const EDGES: [f64; 4] = [-5.0, -1.6, 1.6, 5.0];

/// The state of knowledge from which tests are judged.
pub(super) struct Outlook<'a, 'b> {
    weighing: &'a Weighing<'b>,
    posterior: &'a Posterior,
    units: Vec<Unit>,
    /// P(unit stands).
    stands: Vec<f64>,
    /// By unit, the environments of all parts when it stands; none where it hardly matters.
    given: Vec<Option<Vec<Table>>>,
    tables: Vec<Table>,
}

impl<'a, 'b> Outlook<'a, 'b> {
    /// `weighing` foresees all measurements of the tests to be judged.
    pub fn new(weighing: &'a Weighing<'b>, posterior: &'a Posterior, case: &Case) -> Self {
        let units = units(weighing.tables, case);
        let tables: Vec<Table> = weighing.parts.iter().map(|part| part.table(|_| true)).collect();
        let mut outlook = Self { weighing, posterior, units, stands: Vec::new(), given: Vec::new(), tables };
        for index in 0..outlook.units.len() {
            let table = outlook.table_of(&outlook.units[index]);
            let environment = &outlook.posterior.environments[outlook.units[index].subsystem];
            let stands = outlook.total(&table, environment).clamp(0.0, 1.0);
            let unit = &mut outlook.units[index];
            unit.doubt *= unit.spoken_for(stands);
            let matters = unit.loss(stands, 1.0).minutes() > NEGLIGIBLE_LOSS;
            let unit = &outlook.units[index];
            let given = matters.then(|| outlook.environments_given(unit, &table));
            outlook.stands.push(stands);
            outlook.given.push(given);
        }
        outlook
    }

    /// What weighs the part of a unit when it stands.
    fn table_of(&self, unit: &Unit) -> Table {
        let part = &self.weighing.parts[unit.subsystem];
        let sets = &self.weighing.tables.subsystems[part.subsystem].sets;
        part.table(|set| unit.members.iter().any(|member| sets[set].has(*member)))
    }

    /// The environments of all parts when a unit stands, whose part then has this table.
    fn environments_given(&self, unit: &Unit, table: &Table) -> Vec<Table> {
        let tables = self
            .tables
            .iter()
            .enumerate()
            .map(|(index, whole)| if index == unit.subsystem { table } else { whole });
        self.weighing.environments(tables).1
    }

    /// Average loss of the best decisions now, and of the doubt in which they are made.
    pub fn loss(&self) -> Loss {
        self.losses().sum()
    }

    /// The same by unit.
    fn losses(&self) -> impl Iterator<Item = Loss> {
        self.units.iter().zip(&self.stands).map(|(unit, stands)| unit.loss(*stands, 1.0))
    }

    /// P(each unit stands).
    pub fn standing(&self) -> impl Iterator<Item = (&Unit, f64)> {
        self.units.iter().zip(self.stands.iter().copied())
    }

    /// The members of a unit, most probable first.
    pub fn most_probable_first(&self, unit: &Unit) -> Vec<usize> {
        let mut members = unit.members.clone();
        let probability = |member: &usize| self.posterior.marginals[*member];
        members.sort_by(|a, b| probability(b).total_cmp(&probability(a)).then(a.cmp(b)));
        members
    }

    /// P(a hypothesis stands).
    pub fn probability(&self, hypothesis: usize) -> f64 {
        self.posterior.marginals[hypothesis]
    }

    /// Expected fall of the loss by these tests together. What they show in different subsystems
    /// and at different inspections is taken as telling each time the same share of what is still open of
    /// a unit: two looks at one thing do not save its loss twice.
    pub fn saves<'p>(&self, procedures: impl IntoIterator<Item = &'p [Vec<Loss>]>) -> Loss {
        saved(self.losses(), procedures.into_iter().flatten())
    }

    /// By what a test lets be seen at once, the shares of its loss by which each unit's is expected to fall.
    pub fn falls(&self, test: &ToTake) -> Vec<Vec<Loss>> {
        let in_parts = self.weighing.parts.iter().filter_map(|part| {
            let sights = self.sights(test, part);
            (!sights.is_empty()).then(|| self.falls_in(part, &sights)).flatten()
        });
        let inspections = self.weighing.tables.inspections.iter().enumerate();
        let crossing = inspections
            .filter(|(index, table)| {
                table.within.is_none()
                    && test.step(&self.weighing.tables.catalogue.inspections[*index].key).is_some()
            })
            .map(|(index, _)| self.falls_by_crossing(index));
        in_parts.chain(crossing).collect()
    }

    /// What the test lets be seen in a subsystem: its steps, optional ones behind the others, as many
    /// as can be weighed together, and without recorded series, for which not everybody has the instrument.
    fn sights(&self, test: &ToTake, part: &Part) -> Vec<Sight> {
        let tables = self.weighing.tables;
        let subsystem = tables.subsystems[part.subsystem].subsystem;
        let step_of = |key: &crate::equipment::ObservationKey| test.step(key).map(|step| step.optional);
        let mut sights: Vec<(bool, Sight)> = Vec::new();
        for (index, measurement) in tables.catalogue.measurements.iter().enumerate() {
            if measurement.reads.subsystem() == subsystem
                && self.weighing.foresees(index)
                && let Some(optional) = step_of(&measurement.key)
                && let Some(edges) = self.edges(part, index)
            {
                sights.push((optional, Sight::Number { measurement: index, edges }));
            }
        }
        for (index, table) in tables.inspections.iter().enumerate() {
            if table.within == Some(subsystem)
                && let Some(optional) = step_of(&tables.catalogue.inspections[index].key)
            {
                sights.push((optional, Sight::Choice { inspection: index }));
            }
        }
        // The stages of one heating tell the same: the longest does for all.
        let rise = |sight: &Sight| match sight {
            Sight::Number { measurement, .. } => match tables.catalogue.measurements[*measurement].reads {
                crate::equipment::Reads::HeatingTime { stage } => tables.circuit.rise_to(stage),
                _ => None,
            },
            Sight::Choice { .. } => None,
        };
        let highest = sights.iter().filter_map(|(_, sight)| rise(sight)).fold(0.0, f64::max);
        sights.retain(|(_, sight)| rise(sight).is_none_or(|rise| rise >= highest));
        sights.sort_by_key(|(optional, _)| *optional);
        let mut outcomes = 1;
        sights.retain(|(_, sight)| {
            let more = outcomes * self.outcomes_of(sight);
            let fits = more <= MOST_OUTCOMES;
            outcomes = if fits { more } else { outcomes };
            fits
        });
        sights.truncate(MOST_SIGHTS);
        sights.into_iter().map(|(_, sight)| sight).collect()
    }

    fn outcomes_of(&self, sight: &Sight) -> usize {
        match sight {
            Sight::Number { edges, .. } => edges.len() + 1,
            Sight::Choice { inspection } => {
                self.weighing.tables.catalogue.inspections[*inspection].choices.len()
            }
        }
    }

    /// Where the outcomes of a measurement part: about what is most probably read, or between the
    /// ranges by which it is judged.
    fn edges(&self, part: &Part, measurement: usize) -> Option<Vec<f64>> {
        let of = &self.weighing.tables.catalogue.measurements[measurement];
        if !of.judged.is_empty() {
            let mut edges: Vec<f64> = of.judged.values().map(|(low, _)| on_scale(of.scale, *low)).collect();
            edges.sort_by(f64::total_cmp);
            edges.remove(0);
            return Some(edges);
        }
        let sigma =
            (of.usual_uncertainty.powi(2) + of.model_error.powi(2) + grid_error(&of.reads).powi(2)).sqrt();
        let (low, high) = (on_scale(of.scale, of.range.0), on_scale(of.scale, of.range.1));
        let environment = &self.posterior.environments[self.index_of(part)?];
        let likeliest = part.likeliest_prediction(self.weighing, environment, measurement);
        let middle = likeliest.unwrap_or(f64::midpoint(low, high)).clamp(low, high);
        let edges = EDGES.iter().map(|step| step.mul_add(sigma, middle));
        let edges: Vec<f64> = edges.filter(|edge| *edge > low && *edge < high).collect();
        // On a linear scale both directions of a small range can lie outside it.
        let usable = !edges.is_empty() || of.scale == Scale::Logarithmic;
        usable.then_some(edges)
    }

    fn index_of(&self, part: &Part) -> Option<usize> {
        self.weighing.parts.iter().position(|of| of.subsystem == part.subsystem)
    }

    /// By what a test shows in one subsystem.
    fn falls_in(&self, part: &Part, sights: &[Sight]) -> Option<Vec<Loss>> {
        let at = self.index_of(part)?;
        let foresight = Foresight::new(self.weighing, part, sights);
        let outcomes = foresight.outcomes();
        let environment = &self.posterior.environments[at];
        let sets = &self.weighing.tables.subsystems[part.subsystem].sets;
        let own: Vec<usize> =
            (0..self.units.len()).filter(|unit| self.units[*unit].subsystem == part.subsystem).collect();
        // By combination and outcome, what the subsystem weighs; by own unit and outcome, in how much of
        // it the unit stands.
        let mut weight = vec![Dual::default(); part.size * outcomes];
        let mut own_stands = vec![vec![0.0; outcomes]; own.len()];
        let mut given = Vec::new();
        for (set, calls) in part.calls.iter().enumerate() {
            let members: Vec<usize> = (0..own.len())
                .filter(|of| self.units[own[*of]].members.iter().any(|member| sets[set].has(*member)))
                .collect();
            let mut of_set = None;
            for (index, weight_of) in part.weights[set * part.size..][..part.size].iter().enumerate() {
                let weight_of = *weight_of;
                let dual = Dual { all: weight_of, calls: weight_of * calls };
                let mass = dual.in_environment(environment[index]) / self.posterior.z;
                // Thresholds of an inspection weigh with either sign.
                if mass.abs() < NEGLIGIBLE {
                    continue;
                }
                let of_set = of_set.get_or_insert_with(|| foresight.of_set(set));
                foresight.given(of_set, index, &mut given);
                for (entry, probability) in weight[index * outcomes..].iter_mut().zip(&given) {
                    entry.all += dual.all * probability;
                    entry.calls += dual.calls * probability;
                }
                for member in &members {
                    for (stands, probability) in own_stands[*member].iter_mut().zip(&given) {
                        *stands += mass * probability;
                    }
                }
            }
        }
        let totals = |environment: &Table| -> Vec<f64> {
            let mut totals = vec![0.0; outcomes];
            for (weight, environment) in weight.chunks_exact(outcomes).zip(environment) {
                for (total, weight) in totals.iter_mut().zip(weight) {
                    *total += weight.in_environment(*environment);
                }
            }
            totals.into_iter().map(|total| total / self.posterior.z).collect()
        };
        let total = totals(environment);
        let all = total.iter().sum();
        let falls = self.units.iter().zip(&self.given).enumerate().map(|(index, (unit, given))| {
            let Some(given) = given else { return Loss::default() };
            let stands = match own.iter().position(|unit| *unit == index) {
                Some(own) => own_stands[own].clone(),
                None => totals(&given[at]),
            };
            let before = unit.loss(stands.iter().sum(), all);
            let after = stands.iter().zip(&total).map(|(stands, total)| unit.loss(*stands, *total)).sum();
            share_of(before, after)
        });
        Some(falls.collect())
    }

    fn total(&self, weight: &[Dual], environment: &Table) -> f64 {
        weight
            .iter()
            .zip(environment)
            .map(|(weight, environment)| weight.in_environment(*environment))
            .sum::<f64>()
            / self.posterior.z
    }

    /// By an inspection with parents in several subsystems. Each threshold
    /// `P(true ≤ c)` is a product over the subsystems, from which the choices follow linearly.
    fn falls_by_crossing(&self, inspection: usize) -> Vec<Loss> {
        let weights = threshold_weights(self.weighing, inspection);
        let choices = weights.len();
        let mut below: Vec<(f64, Vec<f64>)> = (0..choices).map(|c| self.at_most(inspection, c)).collect();
        if let Some(last) = below.last_mut() {
            *last = (1.0, self.stands.clone());
        }
        let falls = self.units.iter().zip(&self.given).enumerate().map(|(index, (unit, given))| {
            if given.is_none() {
                return Loss::default();
            }
            let after = weights.iter().map(|weights| {
                let combine = |of: &dyn Fn(usize) -> f64| {
                    weights.iter().enumerate().map(|(c, weight)| weight * of(c)).sum::<f64>().max(0.0)
                };
                let total = combine(&|c| below[c].0);
                let stands = combine(&|c| below[c].1[index]);
                unit.loss(stands.min(total), total)
            });
            share_of(unit.loss(self.stands[index], 1.0), after.sum())
        });
        falls.collect()
    }

    /// `P(true ≤ c)`, and the same together with each unit standing.
    fn at_most(&self, inspection: usize, choice: usize) -> (f64, Vec<f64>) {
        let factors: Vec<Factors> =
            self.weighing.parts.iter().map(|part| self.weighing.up_to(part, inspection, choice)).collect();
        let tables: Vec<Table> = self
            .weighing
            .parts
            .iter()
            .zip(&factors)
            .map(|(part, factors)| part.scaled_table(factors, |_| true))
            .collect();
        let (z, environments) = self.weighing.environments(&tables);
        let stands = self
            .units
            .iter()
            .enumerate()
            .map(|(index, unit)| {
                if self.given[index].is_none() {
                    return 0.0;
                }
                let part = &self.weighing.parts[unit.subsystem];
                let sets = &self.weighing.tables.subsystems[part.subsystem].sets;
                let has = |set: usize| unit.members.iter().any(|member| sets[set].has(*member));
                let table = part.scaled_table(&factors[unit.subsystem], has);
                self.total(&table, &environments[unit.subsystem])
            })
            .collect();
        (z / self.posterior.z, stands)
    }
}

/// By what share of it each side of a loss falls.
fn share_of(before: Loss, after: Loss) -> Loss {
    let share = |before: f64, after: f64| {
        if before > 0.0 { (1.0 - after / before).clamp(0.0, 1.0) } else { 0.0 }
    };
    Loss { decision: share(before.decision, after.decision), doubt: share(before.doubt, after.doubt) }
}

/// What all looks together save, from the loss of each unit and the shares that each look saves of it.
fn saved<'f>(losses: impl Iterator<Item = Loss>, looks: impl IntoIterator<Item = &'f Vec<Loss>>) -> Loss {
    let looks: Vec<&Vec<Loss>> = looks.into_iter().collect();
    let of_unit = |(unit, loss): (usize, Loss)| {
        let closed = |side: fn(&Loss) -> f64| {
            1.0 - looks.iter().map(|falls| 1.0 - side(&falls[unit])).product::<f64>()
        };
        Loss {
            decision: loss.decision * closed(|fall| fall.decision),
            doubt: loss.doubt * closed(|fall| fall.doubt),
        }
    };
    losses.enumerate().map(of_unit).sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnosis::posterior::Depth;
    use crate::diagnosis::tests::{COMBI, choice, complaint, value};
    use crate::diagnosis::{evidence, next_test, probabilities, weigh};
    use crate::vocabulary::Symptom;

    /// Bayes' rule: what is read is as probable beforehand as the evidence then grows by it.
    #[test]
    fn an_inspection_across_subsystems_is_foreseen_as_it_is_then_found() {
        let case = complaint(
            Symptom::NoSteam,
            vec![value("sump_holds/level_fall", 0.001), value("fill_time/fill_time", 13.0)],
        );
        let before = probabilities(&COMBI, &case).log_evidence;
        let evidence = evidence::take(&COMBI, &case);
        let weighing = weigh(&COMBI, &case, &evidence, &next_test::to_foresee(&COMBI, &case));
        let posterior = Posterior::of(&weighing, Depth::NONE);
        let outlook = Outlook::new(&weighing, &posterior, &case);
        for key in ["steam/strength", "rinse_clear/clarity"] {
            let index = COMBI.catalogue.inspections.iter().position(|of| of.key.as_str() == key).unwrap();
            let choices = &COMBI.catalogue.inspections[index].choices;
            let below: Vec<f64> = (0..choices.len()).map(|c| outlook.at_most(index, c).0).collect();
            for (read, weights) in choices.iter().zip(threshold_weights(&weighing, index)) {
                let foreseen: f64 = weights.iter().zip(&below).map(|(weight, below)| weight * below).sum();
                let mut after = case.clone();
                after.observations.push(choice(key, read.as_str()));
                let found = (probabilities(&COMBI, &after).log_evidence - before).exp();
                assert!((foreseen - found).abs() < 2e-3, "{key} {read}: {foreseen} foreseen, {found} found");
            }
        }
    }

    #[test]
    fn two_looks_at_one_thing_do_not_save_it_twice() {
        let both = |minutes: f64| Loss { decision: minutes, doubt: 2.0 * minutes };
        let share = |share: f64| Loss { decision: share, doubt: share };
        let saved = |looks: &[Vec<Loss>]| saved([both(10.0), both(4.0)].into_iter(), looks);
        let (first, second) = (vec![share(0.5), share(0.0)], vec![share(0.5), share(1.0)]);
        assert_eq!(saved(std::slice::from_ref(&first)), both(5.0));
        assert_eq!(saved(&[first, second]), both(11.5));
        assert_eq!(saved(&[]), both(0.0));
    }
}
