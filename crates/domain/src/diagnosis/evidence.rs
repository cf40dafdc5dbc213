//! From the observations of a case to what the engine can compare with its tables: repeats joined,
//! conditions taken out, and everything that cannot be used set aside with its reason.

use serde::{Deserialize, Serialize};

use super::case::{Case, LEVEL_BEFORE, Number, Observation, Observed};
use super::circuit::Circuit;
use super::likelihood::{
    Comparable, Likelihood, MADE_AGAIN, Repeated, Seen, Slips, on_scale, uncertainty_on_scale,
};
use super::tables::{InspectionTable, Side, Tables};
use crate::equipment::{MeasurementModel, ObservationKey, Reads};
use crate::physics::atmosphere::boiling_point;
use crate::quantity::{Altitude, Scale};

/// What the engine takes from a case.
pub(super) struct Evidence {
    pub numbers: Vec<NumberEvidence>,
    pub choices: Vec<ChoiceEvidence>,
    pub set_aside: Vec<SetAside>,
    pub repeats: Vec<Repeats>,
}

impl Evidence {
    pub const fn none() -> Self {
        Self { numbers: Vec::new(), choices: Vec::new(), set_aside: Vec::new(), repeats: Vec::new() }
    }
}

/// One or several readings of the same thing under the same conditions.
pub(super) struct NumberEvidence {
    /// Index into the subsystems of the tables.
    pub subsystem: usize,
    /// Index into the catalogue's measurements.
    pub measurement: usize,
    /// What was read; of several readings, what they come to together.
    pub comparable: Comparable,
    /// If there are several.
    pub repeated: Option<Repeated>,
    /// Its density or probability if something that nobody described stands in the subsystem.
    pub under_the_unknown: f64,
    /// Water in the sump before the run over its full volume, if read and of consequence.
    pub level: Option<f64>,
    /// Indices of the case's observations.
    pub from: Vec<usize>,
}

impl NumberEvidence {
    /// How likely it is, averaged over a stretch of predictions.
    pub fn over(&self, low: f64, high: f64) -> Likelihood {
        match &self.repeated {
            Some(repeated) => repeated.over(low, high),
            None => self.comparable.over(low, high),
        }
    }

    /// The whole likelihood under each of many predictions, and the part of a misread.
    pub fn totals(&self, predicted: &[f64]) -> (Vec<f64>, Vec<f64>) {
        let of = |predicted: &f64| {
            let likelihood = self.over(*predicted, *predicted);
            (likelihood.total(), likelihood.misread)
        };
        predicted.iter().map(of).unzip()
    }

    /// The same for stretches, their ends behind each other.
    pub fn totals_of_stretches(&self, ends: &[f64]) -> (Vec<f64>, Vec<f64>) {
        let of = |ends: &[f64]| {
            let likelihood = self.over(ends[0], ends[1]);
            (likelihood.total(), likelihood.misread)
        };
        ends.chunks_exact(2).map(of).unzip()
    }
}

pub(super) struct ChoiceEvidence {
    /// Index into the catalogue's inspections.
    pub inspection: usize,
    /// The one most often read.
    pub choice: usize,
    /// By true choice, the probability of all that was read.
    pub given: Vec<f64>,
    pub from: Vec<usize>,
}

/// An observation that could not be used.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SetAside {
    /// Index into the case's observations.
    pub observation: usize,
    pub key: ObservationKey,
    pub reason: String,
}

/// Observations of the same thing under the same conditions, taken as one.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Repeats {
    pub observations: Vec<usize>,
    pub key: ObservationKey,
    /// They differ by more than their uncertainty.
    pub disagree: bool,
}

/// A single reading on its scale.
struct Single {
    observation: usize,
    subsystem: usize,
    measurement: usize,
    seen: Seen,
    sigma: f64,
    level: Option<f64>,
    /// What its procedure asks for was not confirmed.
    doubtful: bool,
}

/// Share of readings that say nothing if what their procedure asks for was not confirmed.
const SLIPS_IF_DOUBTFUL: f64 = 0.5;
/// Share of undescribed faults that leave a part's own value as it is on a sound machine.
pub(super) const UNKNOWN_LEAVES_AS_IT_IS: f64 = 0.8;
/// How well a machine repeats itself, over the error of what is predicted for it.
const REPEATABILITY: f64 = 0.25;
/// So many alike looks say all that looks can say.
const MOST_ALIKE: u8 = 3;

pub(super) fn take(tables: &Tables, case: &Case) -> Evidence {
    let mut evidence = Evidence::none();
    let mut singles = Vec::new();
    let mut choices: Vec<(usize, usize, usize)> = Vec::new();
    for (index, observation) in case.observations.iter().enumerate() {
        match read(tables, case, index, observation)
            .and_then(|read| out_of_reach(tables, case, &read).map_or(Ok(read), Err))
        {
            Ok(Read::Number(single)) => singles.push(single),
            Ok(Read::Choice { inspection, choice }) => choices.push((inspection, choice, index)),
            Err(reason) => {
                evidence.set_aside.push(SetAside {
                    observation: index,
                    key: observation.key.clone(),
                    reason,
                });
            }
        }
    }
    join_numbers(tables, case, &singles, &mut evidence);
    join_choices(tables, case, &choices, &mut evidence);
    evidence
}

enum Read {
    Number(Single),
    Choice { inspection: usize, choice: usize },
}

fn read(tables: &Tables, case: &Case, index: usize, observation: &Observation) -> Result<Read, String> {
    let catalogue = tables.catalogue();
    if let Some(inspection) = catalogue.inspections.iter().position(|i| i.key == observation.key) {
        return read_choice(tables, inspection, &observation.seen)
            .map(|choice| Read::Choice { inspection, choice });
    }
    let found = catalogue.measurements.iter().position(|m| m.key == observation.key);
    let Some(index_of) = found else {
        return Err(format!(
            "the catalogue of {} does not know it: it may be a reading of another model",
            catalogue.model
        ));
    };
    let measurement = &catalogue.measurements[index_of];
    let Some(subsystem) =
        tables.subsystems.iter().position(|of| of.subsystem == measurement.reads.subsystem())
    else {
        return Err("no fault of the catalogue bears on it".into());
    };
    let (seen, sigma) = normalised(tables, case, measurement, observation)?;
    let by_level = Circuit::depends_on_level(&measurement.reads);
    let full = tables.circuit.full_l();
    let level = observation
        .conditions
        .level_before_l
        .filter(|level| by_level && full > 0.0 && level.is_finite() && *level >= 0.0)
        .map(|level| level / full);
    let seen = no_better_than_sound(tables, index_of, seen);
    let doubtful = observation.conditions.unconfirmed;
    Ok(Read::Number(Single {
        observation: index,
        subsystem,
        measurement: index_of,
        seen,
        sigma,
        level,
        doubtful,
    }))
}

/// Where faults lead to one side alone, what lies on the other is sound: less water left than usual, an
/// insulation better than new.
fn no_better_than_sound(tables: &Tables, measurement: usize, seen: Seen) -> Seen {
    let Some(sound) = tables.sound[measurement] else { return seen };
    match (sound.worse, seen) {
        (Some(Side::Higher), Seen::Exactly(y)) => Seen::Exactly(y.max(sound.value)),
        (Some(Side::Higher), Seen::AtMost(y)) => Seen::AtMost(y.max(sound.value)),
        (Some(Side::Lower), Seen::Exactly(y)) => Seen::Exactly(y.min(sound.value)),
        (Some(Side::Lower), Seen::AtLeast(y)) => Seen::AtLeast(y.min(sound.value)),
        _ => seen,
    }
}

/// Why a time to a stage says nothing of the machine: water boils below the stage where the kitchen lies, so
/// that no machine reaches it, sound or not.
fn out_of_reach(tables: &Tables, case: &Case, read: &Read) -> Option<String> {
    let Read::Number(Single { measurement, .. }) = read else { return None };
    let Reads::HeatingTime { stage } = tables.catalogue.measurements[*measurement].reads else { return None };
    let stage_cel = tables.circuit.stage_cel(stage)?;
    let altitude_m = case.altitude_m?;
    let boils = boiling_point(Altitude::from_metres(altitude_m).ok()?).ok()?.celsius();
    (stage_cel > boils - NEAR_BOILING_K).then(|| {
        format!(
            "water boils at {boils:.1} °C at {altitude_m:.0} m above the sea, so that no machine there reaches \
             {stage_cel:.0} °C; the time says nothing of this one"
        )
    })
}

/// The weather moves the air's pressure by some 3 %, and the boiling point by as much as this.
const NEAR_BOILING_K: f64 = 0.8;

fn read_choice(tables: &Tables, inspection: usize, seen: &Observed) -> Result<usize, String> {
    let inspection = &tables.catalogue().inspections[inspection];
    let banded = |value: f64| {
        let bands = inspection.bands.as_ref().ok_or("it is answered with a choice, not with a number")?;
        let finite = if value.is_nan() { Err("it is not a number") } else { Ok(value) }?;
        bands.choice(finite).and_then(|choice| inspection.choice(choice)).ok_or("it fits no band")
    };
    match seen {
        Observed::Choice(choice) => inspection.choice(choice).ok_or_else(|| {
            let known: Vec<_> = inspection.choices.iter().map(crate::text::Key::as_str).collect();
            format!("it has the choices {}", known.join(", "))
        }),
        Observed::Value(number) | Observed::AtMost(number) => banded(number.value).map_err(Into::into),
        // Beyond the end of the instrument lies at least the next number.
        Observed::AtLeast(number) => banded(number.value.next_up()).map_err(Into::into),
    }
}

/// The reading under the usual conditions, on the measurement's scale, with its uncertainty.
fn normalised(
    tables: &Tables,
    case: &Case,
    measurement: &MeasurementModel,
    observation: &Observation,
) -> Result<(Seen, f64), String> {
    let scale = measurement.scale;
    let (number, bound): (&Number, fn(f64) -> Seen) = match &observation.seen {
        Observed::Value(number) => (number, Seen::Exactly),
        Observed::AtLeast(number) => (number, Seen::AtLeast),
        Observed::AtMost(number) => (number, Seen::AtMost),
        Observed::Choice(choice) => {
            let (low, high) = measurement
                .judged
                .get(choice)
                .ok_or_else(|| "it is read as a number, not as this choice".to_owned())?;
            let seen = Seen::Between(on_scale(scale, *low), on_scale(scale, *high));
            return Ok((seen, measurement.usual_uncertainty));
        }
    };
    if !number.value.is_finite() {
        return Err("its value is not a finite number".into());
    }
    let sigma = number
        .uncertainty
        .filter(|u| u.is_finite() && *u > 0.0)
        .map_or(measurement.usual_uncertainty, |u| uncertainty_on_scale(scale, number.value, u));
    let (value, bound) = usual_conditions(tables, case, measurement, observation, number.value, bound)?;
    Ok((bound(on_scale(scale, value)), sigma))
}

type Bound = fn(f64) -> Seen;

/// Takes out what the conditions of the reading change in a known way.
fn usual_conditions(
    tables: &Tables,
    case: &Case,
    measurement: &MeasurementModel,
    observation: &Observation,
    value: f64,
    bound: Bound,
) -> Result<(f64, Bound), String> {
    let conditions = &observation.conditions;
    let circuit = &tables.circuit;
    let positive = |value: Option<f64>| value.filter(|value| value.is_finite() && *value > 0.0);
    match measurement.reads {
        Reads::CaughtVolume => {
            let overflowed = positive(conditions.bucket_l).is_some_and(|bucket| value >= 0.99 * bucket);
            let bound: Bound = if overflowed { Seen::AtLeast } else { bound };
            let Some(call_s) = positive(conditions.call_s) else { return Ok((value, bound)) };
            let caught = circuit
                .caught_in_usual_call(value, call_s)
                .ok_or("the call was too short for water to come")?;
            Ok((caught, bound))
        }
        // A fill that ended short was timed to what it filled.
        Reads::FillTime => Ok((value * filled_short(tables, case).map_or(1.0, f64::recip), bound)),
        Reads::HeatingTime { stage } => {
            let (Some(start), Some(to), Some(rise)) =
                (conditions.start_temperature_cel, circuit.stage_cel(stage), circuit.rise_to(stage))
            else {
                return Ok((value, bound));
            };
            // A time over a few kelvin is mostly delay.
            if to - start < 10.0 || !start.is_finite() {
                return Err("the heating began too close to its end to say anything".into());
            }
            Ok((value * rise / (to - start), bound))
        }
        Reads::FirstFall => {
            let run_s = positive(conditions.run_s).or(circuit.run_s());
            let held = run_s.is_some_and(|run_s| value >= 0.98 * run_s);
            Ok((value, if held { Seen::AtLeast } else { bound }))
        }
        Reads::LastFifthShare => match (positive(conditions.run_s), circuit.run_s()) {
            (Some(run), Some(usual)) if !(0.8..=1.25).contains(&(run / usual)) => {
                Err(format!("it is comparable only for runs of about {usual} s"))
            }
            _ => Ok((value, bound)),
        },
        Reads::FilledVolume => {
            // A sump that was topped up by hand for a run is full whatever the machine does.
            let full = value >= 0.95 * circuit.full_l();
            if full && observation.key.step() == LEVEL_BEFORE {
                Err("a full sump tells nothing of how it was filled".into())
            } else {
                Ok((value, bound))
            }
        }
        _ => Ok((value, bound)),
    }
}

/// Share of the full sump at which the machine stopped filling by itself, where it was read and falls short.
fn filled_short(tables: &Tables, case: &Case) -> Option<f64> {
    let full = tables.circuit.full_l();
    case.observations.iter().rev().find_map(|observation| {
        let measurements = &tables.catalogue.measurements;
        let measurement = measurements.iter().find(|of| of.key == observation.key)?;
        match observation.seen {
            Observed::Value(Number { value, .. })
                if measurement.reads == Reads::FilledVolume && observation.key.step() != LEVEL_BEFORE =>
            {
                (value > 0.0 && value < FILLED_SHORT * full).then(|| value / full)
            }
            _ => None,
        }
    })
}

/// Less than this share of the mark is short of it.
const FILLED_SHORT: f64 = 0.9;

fn join_numbers(tables: &Tables, case: &Case, singles: &[Single], evidence: &mut Evidence) {
    let same = |a: &Single, b: &Single| {
        let same_level = match (a.level, b.level) {
            (Some(a), Some(b)) => (a - b).abs() < 0.03,
            (None, None) => true,
            _ => false,
        };
        a.measurement == b.measurement && same_level && a.doubtful == b.doubtful
    };
    let mut groups: Vec<Vec<&Single>> = Vec::new();
    for single in singles {
        match groups.iter_mut().find(|group| same(group[0], single)) {
            Some(group) => group.push(single),
            None => groups.push(vec![single]),
        }
    }
    for group in groups {
        let joined = join(tables, &group);
        if group.len() > 1 {
            evidence.repeats.push(Repeats {
                observations: group.iter().map(|single| single.observation).collect(),
                key: case.observations[group[0].observation].key.clone(),
                disagree: joined.disagree,
            });
        }
        evidence.numbers.push(joined.evidence);
    }
}

struct Joined {
    evidence: NumberEvidence,
    disagree: bool,
}

/// One reading, or several of one thing.
fn join(tables: &Tables, group: &[&Single]) -> Joined {
    let first = group[0];
    let measurement = &tables.catalogue.measurements[first.measurement];
    let scale = measurement.scale;
    let (low, high) = (on_scale(scale, measurement.range.0), on_scale(scale, measurement.range.1));
    let error = measurement.model_error.hypot(grid_error(&measurement.reads));
    let mut slips = Slips::of(measurement);
    if first.doubtful {
        slips.share = SLIPS_IF_DOUBTFUL;
    }
    let single = Comparable::new(first.seen, first.sigma.hypot(error), low, high, slips);
    // A part of the model's error is the machine's own, which does not quite repeat itself.
    let of_machine = REPEATABILITY * measurement.model_error;
    let shared = (error * error - of_machine * of_machine).sqrt();
    let readings: Vec<(Seen, f64)> =
        group.iter().map(|single| (single.seen, single.sigma.hypot(of_machine))).collect();
    let repeated = if group.len() > 1 { Repeated::new(&readings, shared, &single) } else { None };
    let flat = repeated.as_ref().map_or_else(|| single.flat(), Repeated::flat);
    let comparable = repeated.as_ref().map_or(single, |repeated| repeated.joined);
    let mut evidence = NumberEvidence {
        subsystem: first.subsystem,
        measurement: first.measurement,
        comparable,
        repeated,
        under_the_unknown: flat,
        level: first.level,
        from: group.iter().map(|single| single.observation).collect(),
    };
    if let Some(sound) = tables.sound[first.measurement].filter(|sound| sound.of_part) {
        let as_sound = evidence.over(sound.value, sound.value).total();
        evidence.under_the_unknown =
            UNKNOWN_LEAVES_AS_IT_IS * as_sound + (1.0 - UNKNOWN_LEAVES_AS_IT_IS) * flat;
    }
    Joined { evidence, disagree: disagree(&readings) }
}

/// Values that scatter by more than three times the least of their uncertainties.
fn disagree(readings: &[(Seen, f64)]) -> bool {
    let values: Vec<f64> = readings
        .iter()
        .filter_map(|(seen, _)| if let Seen::Exactly(value) = seen { Some(*value) } else { None })
        .collect();
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let variance = values.iter().map(|value| (value - mean).powi(2)).sum::<f64>() / (n - 1.0);
    let least = readings.iter().map(|(_, u)| *u).fold(f64::INFINITY, f64::min);
    values.len() > 1 && variance.sqrt() > 3.0 * least
}

/// How far a prediction is off because a shared node stands for a range of values, on the logarithmic
/// scale: the node's width times the power with which the reading follows it.
pub(super) fn grid_error(reads: &Reads) -> f64 {
    use super::node::Node;
    match reads {
        Reads::StaticPressure | Reads::DynamicPressure | Reads::PressureAfterStrainer => {
            Node::SitePressure.width()
        }
        Reads::FillTime | Reads::CaughtVolume => 0.5 * Node::SitePressure.width(),
        Reads::HeatingTime { .. } => 2.0 * Node::SiteVoltage.width(),
        _ => 0.0,
    }
}

/// Looks at the same thing: each errs by itself, but a share ρ of them are the first one made again. The
/// choice most often read is named, the later one if they tie.
fn join_choices(tables: &Tables, case: &Case, choices: &[(usize, usize, usize)], evidence: &mut Evidence) {
    let mut inspections: Vec<usize> = choices.iter().map(|(inspection, ..)| *inspection).collect();
    inspections.sort_unstable();
    inspections.dedup();
    for inspection in inspections {
        let reads: Vec<(usize, usize)> = choices
            .iter()
            .filter(|(of, ..)| *of == inspection)
            .map(|(_, choice, from)| (*choice, *from))
            .collect();
        let count = |choice: usize| reads.iter().filter(|(read, _)| *read == choice).count();
        let Some(choice) = reads
            .iter()
            .map(|(choice, from)| (count(*choice), *from, *choice))
            .max()
            .map(|(.., choice)| choice)
        else {
            continue;
        };
        let from: Vec<usize> = reads.iter().map(|(_, from)| *from).collect();
        let disagree = reads.iter().any(|(read, _)| *read != choice);
        if from.len() > 1 {
            evidence.repeats.push(Repeats {
                key: case.observations[from[0]].key.clone(),
                disagree,
                observations: from.clone(),
            });
        }
        let counts: Vec<u8> = (0..tables.inspections[inspection].confusion.len())
            .map(|read| u8::try_from(count(read)).map_or(MOST_ALIKE, |count| count.min(MOST_ALIKE)))
            .collect();
        let given = looks_given(&tables.inspections[inspection], &counts);
        evidence.choices.push(ChoiceEvidence { inspection, choice, given, from });
    }
}

/// By true choice, the probability of so many looks at each: `(1 − ρ)·Π c(read | true)`, and ρ times that of
/// one look where all are alike.
fn looks_given(table: &InspectionTable, counts: &[u8]) -> Vec<f64> {
    let alike = counts.iter().filter(|count| **count > 0).count() == 1;
    let again = if alike && counts.iter().any(|count| *count > 1) { MADE_AGAIN } else { 0.0 };
    let of_truth = |row: &Vec<f64>| {
        let read = row.iter().zip(counts).filter(|(_, count)| **count > 0);
        let apart: f64 = read.clone().map(|(p, count)| p.powi(i32::from(*count))).product();
        let once: f64 = read.map(|(p, _)| p).product();
        (1.0 - again) * apart + again * once
    };
    table.confusion.iter().map(of_truth).collect()
}

/// A value back from its scale.
pub(super) fn from_scale(scale: Scale, value: f64) -> f64 {
    match scale {
        Scale::Linear => value,
        Scale::Logarithmic => value.exp(),
    }
}
