//! The lives of parts as they are sent.

use application::part_life::{
    AgeReplacement, CONFIDENCE, GroupOf, MOST_GROUPS, NoReplacement, PartLives, Study,
};
use chrono::NaiveDate;
use domain::id::PartId;
use domain::reliability::ReliabilityError;
use domain::reliability::kaplan_meier::SurvivalStep;
use domain::repeats::cumulative::MeanCumulative;
use domain::site_water::HardnessBand;
use domain::text::{Key, Name};
use domain::time::Timestamp;
use serde::Serialize;
use utoipa::ToSchema;

use super::PartLifeGrouping;
use crate::reports::table::{Cell, Table};
use crate::schema;

/// A year as costs are reckoned by.
const DAYS_OF_YEAR: f64 = 365.25;

/// Lives of parts, from when each was fitted or came under our eyes to its confirmed failure, or to when it was last known to
/// work. In days; a day begun counts. A part failed if it was taken out and a finding of the same work says that it had.
#[derive(Serialize, ToSchema)]
pub struct PartLifeView {
    #[schema(value_type = schema::Instant)]
    as_of: Timestamp,
    #[schema(value_type = Option<schema::Day>, required)]
    from: Option<NaiveDate>,
    #[schema(value_type = Option<schema::Day>, required)]
    to: Option<NaiveDate>,
    by: PartLifeGrouping,
    /// Of all limits.
    #[schema(minimum = 0, maximum = 1)]
    confidence: f64,
    /// With most lives first.
    #[schema(max_items = 12)]
    items: Vec<PartLifeItem>,
    /// How many failures a place has had by so much time, all groups together; null where nothing failed.
    #[schema(required)]
    mean_cumulative: Option<MeanCumulativeView>,
    left_out: PartLifeLeftOut,
}

/// The mean number of failures of a position of a machine, by the days since the first part of which is known when it was
/// fitted: of that part, and of those that followed.
#[derive(Serialize, ToSchema)]
pub struct MeanCumulativeView {
    /// Positions of machines.
    #[schema(minimum = 0)]
    places: u32,
    #[schema(minimum = 0)]
    failures: u32,
    #[schema(max_items = 100_000)]
    steps: Vec<MeanCumulativePoint>,
}

/// Just after a time.
#[derive(Serialize, ToSchema)]
pub struct MeanCumulativePoint {
    #[schema(minimum = 0)]
    days: f64,
    #[schema(minimum = 0)]
    mean: f64,
    /// Null with fewer than ten places, or where one is left.
    #[schema(required, minimum = 0)]
    lower: Option<f64>,
    #[schema(required, minimum = 0)]
    upper: Option<f64>,
    #[schema(minimum = 0)]
    at_risk: u32,
    #[schema(minimum = 0)]
    failed: u32,
}

/// The lives of one group.
#[derive(Serialize, ToSchema)]
pub struct PartLifeItem {
    #[schema(value_type = Option<schema::Id>, required)]
    part_id: Option<PartId>,
    #[schema(value_type = Option<schema::Name>, required)]
    part_number: Option<Name>,
    #[schema(value_type = Option<schema::Name>, required)]
    part_title: Option<Name>,
    #[schema(value_type = Option<schema::Key>, required)]
    position: Option<Key>,
    #[schema(value_type = Option<schema::Key>, required)]
    model: Option<Key>,
    /// soft below 1.5 mmol/L, medium to 2.5, hard above; null where it is not asked for, or not known.
    #[schema(required, value_type = Option<schema::Key>)]
    hardness: Option<HardnessBand>,
    #[schema(minimum = 0)]
    n: u32,
    #[schema(minimum = 0)]
    failures: u32,
    /// Time in service under our eyes, of all together.
    #[schema(minimum = 0)]
    days_watched: f64,
    /// The age by which half have failed; null where so many have not, or where the estimate says nothing.
    #[schema(required)]
    half_failed: Option<AgeWithLimits>,
    /// The age by which one in ten has failed; null where so many have not.
    #[schema(required)]
    tenth_failed: Option<AgeWithLimits>,
    /// Kaplan and Meier's estimate after each age at which parts failed.
    #[schema(max_items = 100_000)]
    survival: Vec<SurvivalPoint>,
    /// The estimate is for parts that reached this age.
    #[schema(minimum = 0)]
    given_age_days: f64,
    /// From this age on the estimate says nothing, because all that were watched so early had failed; null where it does not.
    #[schema(required, minimum = 0)]
    collapsed_at_days: Option<f64>,
    /// What the failures come from, by the limits of the shape.
    failures_come: FailuresCome,
    /// Null where there is none; failures_come says why.
    #[schema(required)]
    weibull: Option<WeibullView>,
    /// Mean time between failures; it holds only where they come by chance.
    #[schema(required)]
    mean_time: Option<MeanTimeView>,
    /// When to replace before it fails; null where why_not says so.
    #[schema(required)]
    replacement: Option<ReplacementView>,
    /// Why no age is better than waiting for the failure; null where one is.
    #[schema(required)]
    why_not: Option<WhyNot>,
    /// Whether these live as long as all others of the answer; null without others, or where nothing failed while both were
    /// watched.
    #[schema(required)]
    against_others: Option<LogRankView>,
}

/// An age with its limits; a limit is null where the band does not reach it.
#[derive(Serialize, ToSchema)]
pub struct AgeWithLimits {
    #[schema(minimum = 0)]
    days: f64,
    #[schema(required, minimum = 0)]
    lower_days: Option<f64>,
    #[schema(required, minimum = 0)]
    upper_days: Option<f64>,
}

/// Just after an age.
#[derive(Serialize, ToSchema)]
pub struct SurvivalPoint {
    #[schema(minimum = 0)]
    age_days: f64,
    #[schema(minimum = 0)]
    at_risk: u32,
    #[schema(minimum = 0)]
    failed: u32,
    #[schema(minimum = 0, maximum = 1)]
    survival: f64,
    #[schema(required, minimum = 0, maximum = 1)]
    lower: Option<f64>,
    #[schema(required, minimum = 0, maximum = 1)]
    upper: Option<f64>,
}

/// What a shape with its limits says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum FailuresCome {
    /// The older the likelier: the shape's limits lie above one.
    FromWear,
    /// The younger the likelier: they lie below one.
    Early,
    /// They hold one between them: it cannot be told from chance.
    Perhaps,
    /// Fewer than three failures.
    TooFew,
    /// They lie at one age, or fall off faster than any law allows.
    NoLaw,
}

/// S(t) = exp(−(t/scale)^shape), by maximum likelihood with profile limits.
#[derive(Serialize, ToSchema)]
pub struct WeibullView {
    #[schema(minimum = 0)]
    shape: f64,
    #[schema(minimum = 0)]
    shape_lower: f64,
    #[schema(minimum = 0)]
    shape_upper: f64,
    #[schema(minimum = 0)]
    scale_days: f64,
    #[schema(minimum = 0)]
    scale_lower_days: f64,
    #[schema(minimum = 0)]
    scale_upper_days: f64,
}

/// Time watched by failure, with exact limits.
#[derive(Serialize, ToSchema)]
pub struct MeanTimeView {
    /// Null without a failure; the lower limit is then one-sided.
    #[schema(required, minimum = 0)]
    days: Option<f64>,
    #[schema(minimum = 0)]
    lower_days: f64,
    #[schema(required, minimum = 0)]
    upper_days: Option<f64>,
}

/// The age that costs least, and what it saves.
#[derive(Serialize, ToSchema)]
pub struct ReplacementView {
    #[schema(minimum = 0)]
    age_days: f64,
    /// In the currency of the costs.
    #[schema(minimum = 0)]
    cost_by_year: f64,
    #[schema(minimum = 0)]
    cost_of_waiting_by_year: f64,
    /// Share of the cost of waiting.
    #[schema(minimum = 0, maximum = 1)]
    saving: f64,
    /// No part was seen to this age.
    is_beyond_seen: bool,
}

/// Why there is no age of replacement.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum WhyNot {
    CostsNotSaid,
    NoLaw,
    NotShownToWear,
    FailureNotDearer,
    NothingToGain,
}

/// The log-rank test against all others.
#[derive(Serialize, ToSchema)]
pub struct LogRankView {
    #[schema(minimum = 0)]
    failures: u32,
    /// What there would have been if all lived equally long.
    #[schema(minimum = 0)]
    expected: f64,
    /// χ² with one degree of freedom.
    #[schema(minimum = 0)]
    statistic: f64,
    #[schema(minimum = 0, maximum = 1)]
    p: f64,
}

/// What is in no figure, and why.
#[derive(Serialize, ToSchema)]
pub struct PartLifeLeftOut {
    /// Parts that were taken out, of which nobody noted when they were fitted.
    #[schema(minimum = 0)]
    fitting_date_unknown: u32,
    /// Not under our eyes in the days asked for, or with times that contradict each other.
    #[schema(minimum = 0)]
    not_watched: u32,
    /// Groups beyond the twelve with most lives.
    #[schema(minimum = 0)]
    groups_not_told_apart: usize,
    #[schema(minimum = 0)]
    lives_of_those_groups: usize,
}

impl PartLifeView {
    pub(super) fn of(lives: &PartLives, by: PartLifeGrouping) -> Self {
        debug_assert!(lives.groups.len() <= MOST_GROUPS);
        Self {
            as_of: lives.as_of,
            from: lives.days.first,
            to: lives.days.last,
            by,
            confidence: CONFIDENCE,
            items: lives.groups.iter().map(|(of, study)| PartLifeItem::of(of.clone(), study)).collect(),
            mean_cumulative: lives.places.as_ref().map(|of| MeanCumulativeView {
                places: of.places,
                failures: of.failures,
                steps: of.steps.iter().map(MeanCumulativePoint::of).collect(),
            }),
            left_out: PartLifeLeftOut {
                fitting_date_unknown: lives.not_counted.fitting_date_unknown,
                not_watched: lives.not_counted.not_observed,
                groups_not_told_apart: lives.not_told_apart.0,
                lives_of_those_groups: lives.not_told_apart.1,
            },
        }
    }
}

impl PartLifeItem {
    fn of(group: GroupOf, study: &Study) -> Self {
        let (replacement, why_not) = replacement(study);
        let mut item = Self {
            part_id: None,
            part_number: None,
            part_title: None,
            position: None,
            model: None,
            hardness: None,
            n: study.n,
            failures: study.failures,
            days_watched: study.total_time,
            half_failed: AgeWithLimits::of(study, 0.5),
            tenth_failed: AgeWithLimits::of(study, 0.1),
            survival: study.curve.steps.iter().map(SurvivalPoint::of).collect(),
            given_age_days: study.curve.given_age,
            collapsed_at_days: study.curve.collapsed_at,
            failures_come: FailuresCome::of(study),
            weibull: study.weibull.as_ref().ok().map(|law| WeibullView {
                shape: law.shape,
                shape_lower: law.shape_lower,
                shape_upper: law.shape_upper,
                scale_days: law.scale,
                scale_lower_days: law.scale_lower,
                scale_upper_days: law.scale_upper,
            }),
            mean_time: study.mean_time.as_ref().ok().map(|mean| MeanTimeView {
                days: mean.estimate,
                lower_days: mean.lower,
                upper_days: mean.upper,
            }),
            replacement,
            why_not,
            against_others: study.against_others.map(|test| LogRankView {
                failures: test.observed,
                expected: test.expected,
                statistic: test.statistic,
                p: test.p,
            }),
        };
        match group {
            GroupOf::All => {}
            GroupOf::Part { id, number, title } => {
                (item.part_id, item.part_number, item.part_title) = (Some(id), Some(number), Some(title));
            }
            GroupOf::Position(position) => item.position = Some(position),
            GroupOf::Model { key, .. } => item.model = Some(key),
            GroupOf::Hardness(band) => item.hardness = band,
        }
        item
    }
}

fn replacement(study: &Study) -> (Option<ReplacementView>, Option<WhyNot>) {
    let why = |why| (None, Some(why));
    match (study.replacement, &study.weibull) {
        (Some(Ok(AgeReplacement { age, cost, cost_of_waiting, saving, is_beyond_seen })), _) => {
            let view = ReplacementView {
                age_days: age,
                cost_by_year: cost * DAYS_OF_YEAR,
                cost_of_waiting_by_year: cost_of_waiting * DAYS_OF_YEAR,
                saving,
                is_beyond_seen,
            };
            (Some(view), None)
        }
        (Some(Err(NoReplacement::NotShownToWear)), _) => why(WhyNot::NotShownToWear),
        (Some(Err(NoReplacement::FailureNotDearer)), _) => why(WhyNot::FailureNotDearer),
        (Some(Err(NoReplacement::NothingToGain)), _) => why(WhyNot::NothingToGain),
        (None, Err(_)) => why(WhyNot::NoLaw),
        (None, Ok(_)) => why(WhyNot::CostsNotSaid),
    }
}

impl FailuresCome {
    fn of(study: &Study) -> Self {
        match &study.weibull {
            Ok(law) if law.shape_lower > 1.0 => Self::FromWear,
            Ok(law) if law.shape_upper < 1.0 => Self::Early,
            Ok(_) => Self::Perhaps,
            Err(ReliabilityError::TooFew { .. }) => Self::TooFew,
            Err(_) => Self::NoLaw,
        }
    }
}

impl AgeWithLimits {
    fn of(study: &Study, share: f64) -> Option<Self> {
        // Once the estimate has collapsed it says of no age how many have failed.
        let days = study.curve.quantile(share).filter(|_| study.curve.collapsed_at.is_none())?;
        let (lower_days, upper_days) = study.curve.quantile_limits(share);
        Some(Self { days, lower_days, upper_days })
    }
}

impl MeanCumulativePoint {
    fn of(step: &MeanCumulative) -> Self {
        Self {
            days: step.age,
            mean: step.mean,
            lower: step.lower,
            upper: step.upper,
            at_risk: step.at_risk,
            failed: step.events,
        }
    }
}

impl SurvivalPoint {
    fn of(step: &SurvivalStep) -> Self {
        Self {
            age_days: step.age,
            at_risk: step.at_risk,
            failed: step.failed,
            survival: step.survival,
            lower: step.lower,
            upper: step.upper,
        }
    }
}

/// A row a group and age.
pub(super) fn table(view: &PartLifeView) -> Table<'_> {
    let rows = view.items.iter().flat_map(|item| {
        item.survival.iter().map(move |point| {
            vec![
                Cell::text(item.part_number.as_ref().map(ToString::to_string)),
                Cell::text(item.part_title.as_ref().map(ToString::to_string)),
                Cell::text(item.position.as_ref().map(ToString::to_string)),
                Cell::text(item.model.as_ref().map(ToString::to_string)),
                Cell::text(item.hardness.map(|band| band.to_string())),
                Cell::Count(item.n.into()),
                Cell::Count(item.failures.into()),
                Cell::Number(point.age_days),
                Cell::Count(point.at_risk.into()),
                Cell::Count(point.failed.into()),
                Cell::Number(point.survival),
                Cell::number(point.lower),
                Cell::number(point.upper),
            ]
        })
    });
    Table {
        name: "part-life",
        header: vec![
            "part_number",
            "part_title",
            "position",
            "model",
            "hardness",
            "n",
            "failures",
            "age_days",
            "at_risk",
            "failed",
            "survival",
            "lower",
            "upper",
        ],
        rows: Box::new(rows),
    }
}
