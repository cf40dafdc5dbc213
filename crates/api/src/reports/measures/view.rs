use application::measures::{
    self, Counted, Figure, Group, GroupName, LEAST_RANKED, Limits, Measure, Measured, Measures, Quantile,
    Spread, Tally,
};
use chrono::NaiveDate;
use domain::time::Timestamp;
use serde::Serialize;
use utoipa::ToSchema;

use super::MeasuresGrouping;
use crate::schema;

/// Measures of the orders of some days, each beside the same days a year before.
#[derive(Serialize, ToSchema)]
pub struct MeasuresView {
    #[schema(value_type = schema::Instant)]
    as_of: Timestamp,
    #[schema(value_type = schema::Day)]
    from: NaiveDate,
    #[schema(value_type = schema::Day)]
    to: NaiveDate,
    /// The same days a year before; null where they would be partly the same days.
    #[schema(required)]
    year_before: Option<MeasuresDays>,
    /// Within how many days something comes back.
    #[schema(minimum = 7, maximum = 90)]
    pub(super) days: u16,
    /// Null: all orders together.
    #[schema(required)]
    pub(super) by: Option<MeasuresGrouping>,
    /// How sure the limits are.
    #[schema(minimum = 0, maximum = 1)]
    confidence: f64,
    /// Groups of fewer are not ranked.
    #[schema(minimum = 1)]
    least_ranked: u32,
    #[schema(max_items = 20)]
    pub(super) measures: Vec<MeasureItem>,
    /// Measures of the trade for which nothing is recorded yet.
    #[schema(max_items = 20)]
    not_recorded: Vec<NotRecorded>,
}

/// First and last day.
#[derive(Serialize, ToSchema)]
pub struct MeasuresDays {
    #[schema(value_type = schema::Day)]
    from: NaiveDate,
    #[schema(value_type = schema::Day)]
    to: NaiveDate,
}

/// One measure.
#[derive(Serialize, ToSchema)]
pub struct MeasureItem {
    #[schema(value_type = schema::Key)]
    pub(super) measure: Measure,
    /// What is divided by what, or from when to when it lasts.
    #[schema(max_length = 500)]
    definition: String,
    pub(super) all: MeasureFigure,
    /// The highest figure first, months and urgencies in their own order; those too small to be ranked stand behind.
    #[schema(max_items = 20_000)]
    pub(super) groups: Vec<MeasureGroup>,
}

/// A group of orders.
#[derive(Serialize, ToSchema)]
pub struct MeasureGroup {
    /// An id, a key, a word, or a month such as 2026-03; null where the orders have none.
    #[schema(required, max_length = 150)]
    pub(super) group: Option<String>,
    #[schema(required, max_length = 300)]
    pub(super) name: Option<String>,
    /// False where it is too small to stand in a row with others: too few to say.
    pub(super) is_ranked: bool,
    pub(super) figure: MeasureFigure,
}

/// A figure with what it is made of.
#[derive(Serialize, ToSchema)]
pub struct MeasureFigure {
    /// So many of so many; null for a duration.
    #[schema(required)]
    pub(super) share: Option<MeasureShare>,
    /// Null for a share.
    #[schema(required)]
    pub(super) duration: Option<MeasureDuration>,
    /// Orders whose days are not over: in no figure.
    #[schema(minimum = 0)]
    pub(super) immature: u32,
    #[schema(max_items = 20)]
    pub(super) left_out: Vec<MeasureLeftOut>,
    /// A year before; null where it is not compared.
    #[schema(required)]
    pub(super) year_before: Option<MeasureBefore>,
}

/// The same figure of the same days a year before.
#[derive(Serialize, ToSchema)]
pub struct MeasureBefore {
    #[schema(required)]
    pub(super) share: Option<MeasureShare>,
    #[schema(required)]
    pub(super) duration: Option<MeasureDuration>,
    /// How likely a difference so large or larger is where nothing changed, two-sided: Fisher's exact test of two shares, the
    /// conditional binomial test of visits per order, the log-rank test of durations. Null where one of both has no figure.
    #[schema(required, minimum = 0, maximum = 1)]
    pub(super) chance: Option<f64>,
}

/// So many of so many.
#[derive(Serialize, ToSchema)]
pub struct MeasureShare {
    #[schema(minimum = 0)]
    pub(super) numerator: u32,
    #[schema(minimum = 0)]
    pub(super) denominator: u32,
    /// Null where the denominator is 0.
    #[schema(required, minimum = 0)]
    pub(super) value: Option<f64>,
    /// Exact limits (Clopper and Pearson; of visits per order, Garwood); null where there is no value.
    #[schema(required, minimum = 0)]
    pub(super) lower: Option<f64>,
    #[schema(required, minimum = 0)]
    pub(super) upper: Option<f64>,
}

/// How long, in hours. What has not ended yet counts as longer (Kaplan and Meier).
#[derive(Serialize, ToSchema)]
pub struct MeasureDuration {
    #[schema(minimum = 0)]
    pub(super) n: u32,
    /// Not ended yet.
    #[schema(minimum = 0)]
    pub(super) open: u32,
    /// Null where not half of them have ended.
    #[schema(required)]
    pub(super) median: Option<MeasureQuantile>,
    /// Within which nine in ten end; null where not so many have.
    #[schema(required)]
    pub(super) nine_tenths: Option<MeasureQuantile>,
}

/// Hours within which a share ends; a limit that is not reached is null.
#[derive(Serialize, ToSchema)]
pub struct MeasureQuantile {
    #[schema(minimum = 0)]
    pub(super) hours: f64,
    #[schema(required, minimum = 0)]
    pub(super) lower: Option<f64>,
    #[schema(required, minimum = 0)]
    pub(super) upper: Option<f64>,
}

/// Orders in no figure, and why.
#[derive(Serialize, ToSchema)]
pub struct MeasureLeftOut {
    #[schema(value_type = schema::Key)]
    pub(super) why: measures::LeftOut,
    #[schema(minimum = 1)]
    pub(super) orders: u32,
}

/// A measure that cannot be told.
#[derive(Serialize, ToSchema)]
pub struct NotRecorded {
    #[schema(value_type = schema::Key)]
    measure: &'static str,
    #[schema(max_length = 300)]
    why: &'static str,
}

/// Measures of the trade that need what nobody records yet.
const NOT_RECORDED: [NotRecorded; 4] = [
    NotRecorded { measure: "van_line_fill", why: "what is on which van is not recorded" },
    NotRecorded {
        measure: "van_stock_turns",
        why: "what is on which van, and what it cost, is not recorded",
    },
    NotRecorded { measure: "wrong_part", why: "why a part was sent back is not recorded" },
    NotRecorded {
        measure: "parts_of_the_repair_time",
        why: "finding, mending and checking are not timed apart; the time from the fault to the call is not known",
    },
];

impl MeasuresView {
    pub(super) fn of(measures: Measures, by: Option<MeasuresGrouping>) -> Self {
        Self {
            as_of: measures.as_of,
            from: measures.window.first,
            to: measures.window.last,
            year_before: measures.before.map(|window| MeasuresDays { from: window.first, to: window.last }),
            days: measures.days,
            by,
            confidence: domain::measures::CONFIDENCE,
            least_ranked: LEAST_RANKED,
            measures: measures.measured.into_iter().map(|of| MeasureItem::of(of, measures.days)).collect(),
            not_recorded: NOT_RECORDED.into(),
        }
    }
}

impl MeasureItem {
    fn of(measured: Measured, days: u16) -> Self {
        Self {
            measure: measured.measure,
            definition: wording::measure::definition(measured.measure, days),
            all: measured.whole.into(),
            groups: measured.groups.into_iter().map(Into::into).collect(),
        }
    }
}

impl From<Group> for MeasureGroup {
    fn from(group: Group) -> Self {
        let (key, name) = match group.name {
            GroupName::Branch(branch) => branch.map(|(id, name)| (id.to_string(), name)).unzip(),
            GroupName::Model(model) => model.map(|(key, title)| (key.to_string(), title)).unzip(),
            GroupName::Urgency(urgency) => (Some(urgency.to_string()), Some(urgency.to_string())),
            GroupName::Month(month) => {
                let month = month.format("%Y-%m").to_string();
                (Some(month.clone()), Some(month))
            }
            GroupName::Person(id, name) => (Some(id.to_string()), Some(name)),
            GroupName::Repair(position, action) => {
                let repair = format!("{}/{action}", position.key());
                (Some(repair.clone()), Some(repair))
            }
        };
        Self { group: key, name, is_ranked: group.is_ranked, figure: group.tally.into() }
    }
}

impl From<Tally> for MeasureFigure {
    fn from(tally: Tally) -> Self {
        let (share, duration) = counted(tally.counted);
        Self {
            share,
            duration,
            immature: tally.immature,
            left_out: tally
                .left_out
                .into_iter()
                .map(|(why, orders)| MeasureLeftOut { why, orders })
                .collect(),
            year_before: tally.before.map(|before| {
                let (share, duration) = counted(before);
                MeasureBefore { share, duration, chance: tally.change.map(|change| change.p) }
            }),
        }
    }
}

fn counted(counted: Counted) -> (Option<MeasureShare>, Option<MeasureDuration>) {
    match counted {
        Counted::Share(figure) => (Some(figure.into()), None),
        Counted::Lasting(spread) => (None, Some(spread.into())),
    }
}

impl From<Figure> for MeasureShare {
    fn from(figure: Figure) -> Self {
        let (lower, upper) = figure.limits.map(|Limits { lower, upper }| (lower, upper)).unzip();
        Self {
            numerator: figure.numerator,
            denominator: figure.denominator,
            value: figure.value,
            lower,
            upper,
        }
    }
}

impl From<Spread> for MeasureDuration {
    fn from(spread: Spread) -> Self {
        let quantile = |of: Quantile| MeasureQuantile { hours: of.hours, lower: of.lower, upper: of.upper };
        Self {
            n: spread.n,
            open: spread.open,
            median: spread.median.map(quantile),
            nine_tenths: spread.nine_tenths.map(quantile),
        }
    }
}
