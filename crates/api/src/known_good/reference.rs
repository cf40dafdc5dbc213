use std::collections::BTreeMap;

use domain::id::{ApplianceId, TestRunId};
use domain::known_good::fleet::{self, Method, NoInterval};
use domain::known_good::learned::LearnedMeasurement;
use domain::known_good::selection::NotCounted;
use domain::known_good::tolerance::Sides;
use domain::known_good::{normality, variance_components};
use domain::quantity::Scale;
use domain::text::Key;
use domain::time::Timestamp;
use serde::Serialize;
use utoipa::ToSchema;

use crate::schema;

/// What healthy machines of one model show in one measurement. Values are in the unit given.
#[derive(Serialize, ToSchema)]
pub struct KnownGoodReference {
    #[schema(value_type = schema::Key)]
    model: Key,
    #[schema(value_type = schema::Key)]
    procedure: Key,
    #[schema(value_type = schema::Key)]
    step: Key,
    /// What of a recorded series.
    #[schema(required, max_length = 64)]
    statistic: Option<&'static str>,
    #[schema(max_length = 64)]
    quantity: &'static str,
    /// UCUM code.
    #[schema(max_length = 32)]
    unit: &'static str,
    #[schema(value_type = schema::Instant)]
    as_of: Timestamp,
    #[schema(value_type = schema::MethodWord)]
    method: Method,
    #[schema(value_type = schema::ScaleWord)]
    scale: Scale,
    #[schema(value_type = schema::SidesWord)]
    sides: Sides,
    /// The share of healthy units that the interval is to hold.
    #[schema(minimum = 0, maximum = 1)]
    coverage: f64,
    /// How surely.
    #[schema(minimum = 0, maximum = 1)]
    confidence: f64,
    /// Units that it was learned from.
    #[schema(minimum = 0)]
    n: u32,
    #[schema(required)]
    interval: Option<KnownGoodInterval>,
    #[schema(value_type = Option<schema::NoIntervalWord>, required)]
    no_interval_because: Option<&'static str>,
    /// Far from the rest, and counted all the same until a person takes them out.
    #[schema(max_items = 100_000)]
    flagged: Vec<FlaggedReading>,
    /// The same without the flagged readings; null if none is flagged.
    #[schema(required)]
    without_flagged: Option<WithoutFlagged>,
    /// Whether the readings look normal on their scale; it only warns.
    #[schema(required)]
    normality: Option<Normality>,
    /// How many readings were left out, by the reason.
    #[schema(value_type = Vec<LeftOut>, max_items = 20)]
    left_out: Vec<LeftOut>,
    /// The spread of one unit's readings, on the scale; null where no unit was read twice.
    #[schema(required)]
    within_units: Option<WithinUnits>,
}

#[derive(Serialize, ToSchema)]
pub struct KnownGoodInterval {
    #[schema(required)]
    lower: Option<f64>,
    #[schema(required)]
    upper: Option<f64>,
    centre: f64,
    /// On the scale.
    #[schema(required)]
    standard_deviation: Option<f64>,
    /// The limits' distance from the centre, in standard deviations on the scale.
    #[schema(required)]
    factor: Option<f64>,
}

#[derive(Serialize, ToSchema)]
pub struct FlaggedReading {
    #[schema(value_type = schema::Id)]
    appliance_id: ApplianceId,
    #[schema(value_type = schema::Id)]
    test_run_id: TestRunId,
    value: f64,
    /// In robust standard deviations from the median, on the scale.
    score: f64,
}

#[derive(Serialize, ToSchema)]
pub struct WithoutFlagged {
    #[schema(minimum = 0)]
    n: u32,
    #[schema(required)]
    interval: Option<KnownGoodInterval>,
}

#[derive(Serialize, ToSchema)]
pub struct Normality {
    /// Anderson–Darling.
    statistic: f64,
    #[schema(minimum = 0, maximum = 1)]
    p: f64,
    warning: bool,
}

#[derive(Serialize, ToSchema)]
pub struct LeftOut {
    #[schema(value_type = schema::NotCountedWord)]
    because: NotCounted,
    #[schema(minimum = 1)]
    readings: u32,
}

#[derive(Serialize, ToSchema)]
pub struct WithinUnits {
    standard_deviation: f64,
    #[schema(minimum = 1)]
    degrees: u32,
    #[schema(minimum = 1)]
    units: u32,
}

impl From<LearnedMeasurement> for KnownGoodReference {
    fn from(learned: LearnedMeasurement) -> Self {
        let reference = learned.reference;
        let plan = reference.plan;
        Self {
            model: learned.model,
            procedure: learned.of.procedure,
            step: learned.of.step,
            statistic: learned.of.statistic.map(domain::equipment::SeriesStatistic::key),
            quantity: learned.quantity.key(),
            unit: learned.quantity.canonical_unit(),
            as_of: plan.as_of,
            method: plan.method,
            scale: plan.scale,
            sides: plan.aim.sides(),
            coverage: plan.aim.coverage(),
            confidence: reference.interval.map_or(plan.aim.confidence(), |interval| interval.confidence),
            n: reference.units,
            interval: reference.interval.map(KnownGoodInterval::from),
            no_interval_because: reference.none_because.map(|because| match because {
                NoInterval::TooFewUnits { .. } => "too_few_units",
                NoInterval::NoSpread => "no_spread",
            }),
            flagged: reference.flagged.into_iter().map(FlaggedReading::from).collect(),
            without_flagged: reference.without_flagged.map(|without| WithoutFlagged {
                n: without.units,
                interval: without.interval.map(KnownGoodInterval::from),
            }),
            normality: reference.normality.map(Normality::from),
            left_out: left_out(reference.left_out),
            within_units: learned.within.map(WithinUnits::from),
        }
    }
}

fn left_out(counts: BTreeMap<NotCounted, u32>) -> Vec<LeftOut> {
    counts.into_iter().map(|(because, readings)| LeftOut { because, readings }).collect()
}

impl From<fleet::Interval> for KnownGoodInterval {
    fn from(interval: fleet::Interval) -> Self {
        Self {
            lower: interval.limits.lower,
            upper: interval.limits.upper,
            centre: interval.centre,
            standard_deviation: interval.standard_deviation,
            factor: interval.factor,
        }
    }
}

impl From<fleet::Flagged> for FlaggedReading {
    fn from(flagged: fleet::Flagged) -> Self {
        Self {
            appliance_id: flagged.appliance,
            test_run_id: flagged.test_run,
            value: flagged.value,
            score: flagged.score,
        }
    }
}

impl From<normality::Normality> for Normality {
    fn from(normality: normality::Normality) -> Self {
        Self { statistic: normality.statistic, p: normality.p, warning: normality.warning }
    }
}

impl From<variance_components::PooledSpread> for WithinUnits {
    fn from(spread: variance_components::PooledSpread) -> Self {
        Self { standard_deviation: spread.standard_deviation, degrees: spread.degrees, units: spread.units }
    }
}
