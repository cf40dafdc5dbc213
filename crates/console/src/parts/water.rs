//! The water of a kitchen over time, in words: what reaches the machines, how long a treatment lasted, where it goes.

use application::site::SiteWater;
use chrono::TimeDelta;
use domain::site_water::{SamplePoint, Standing, TakenSample, Treatment, TreatmentChange, WaterValue};
use domain::time::Timestamp;

use super::against::figure;
use crate::when;

/// Samples and what they say.
#[derive(Debug, Clone, Default)]
pub(crate) struct Water {
    pub sentences: Vec<String>,
    /// What is outside what a machine bears.
    pub outside: Vec<String>,
    pub samples: Vec<SampleRow>,
}

#[derive(Debug, Clone)]
pub(crate) struct SampleRow {
    pub at: String,
    pub drawn: String,
    /// In the order of the list of values; empty where one was not measured.
    pub values: Vec<String>,
}

impl Water {
    pub fn of(water: &SiteWater, now: Timestamp) -> Self {
        let taken: Vec<TakenSample> = water.samples.iter().map(|kept| kept.taken).collect();
        let mut sentences = treatments(&taken, &water.treatment_changes, now);
        sentences.extend(water.trends.iter().filter(|(_, trend)| trend.of == WaterValue::Hardness).map(
            |(at, trend)| {
                let variables = [
                    ("at", word("sample-point", at.word()).into()),
                    ("change", figure(trend.per_year.abs()).into()),
                    ("n", trend.n.into()),
                ];
                let key = if trend.per_year >= 0.0 { "water-hardness-rises" } else { "water-hardness-falls" };
                wording::say_with(key, &variables)
            },
        ));
        let outside =
            water.against_limits.iter().flat_map(|of| of.findings.iter().map(move |found| (of, found)));
        let outside =
            outside.filter(|(_, found)| matches!(found.standing, Standing::Above | Standing::Below));
        let outside = outside.map(|(of, found)| {
            let variables = [
                ("value", word("water-value", found.of.word()).into()),
                ("model", of.model.to_string().into()),
            ];
            let key = if found.standing == Standing::Above { "water-above" } else { "water-below" };
            wording::say_with(key, &variables)
        });
        Self {
            sentences,
            outside: outside.collect(),
            samples: taken.iter().map(|taken| SampleRow::of(taken, now)).collect(),
        }
    }

    /// What is measured, and in what.
    pub fn columns() -> Vec<String> {
        let column = |value: &WaterValue| {
            let name = word("water-value", value.word());
            match value {
                WaterValue::Hardness => format!("{name}, mg/L CaCO₃"),
                _ if value.unit().is_empty() => name,
                _ => format!("{name}, {}", value.unit()),
            }
        };
        WaterValue::ALL.iter().map(column).collect()
    }
}

fn word(list: &str, word: &str) -> String {
    wording::term(list, word).into_owned()
}

impl SampleRow {
    fn of(taken: &TakenSample, now: Timestamp) -> Self {
        let sample = &taken.sample;
        let point = word("sample-point", sample.sample_point.word());
        let treatment = word("treatment", sample.treatment.word());
        let value = |of: &WaterValue| match (of, sample.value(*of)) {
            (_, None) => String::new(),
            (WaterValue::Ph | WaterValue::LangelierIndex | WaterValue::RyznarIndex, Some(value)) => {
                wording::decimal(format!("{value:.1}"))
            }
            (_, Some(value)) => wording::decimal(format!("{value:.0}")),
        };
        let drawn =
            if sample.sample_point == SamplePoint::AfterTreatment && sample.treatment != Treatment::None {
                format!("{point}, {treatment}")
            } else {
                point
            };
        Self {
            at: when::day(taken.taken_at.instant().date_naive(), now),
            drawn,
            values: WaterValue::ALL.iter().map(value).collect(),
        }
    }
}

/// How long each treatment lasted: between the samples that hold it and the samples that do not, for nobody notes the day.
fn treatments(taken: &[TakenSample], changes: &[TreatmentChange], now: Timestamp) -> Vec<String> {
    let mut told = Vec::new();
    for pair in changes.windows(2) {
        let (began, ended) = (&pair[0], &pair[1]);
        let between = |from: Timestamp, to: Timestamp| days(to.instant() - from.instant());
        let variables = [
            ("treatment", word("treatment", ended.from.word()).into()),
            ("least", between(began.by, ended.after).into()),
            ("most", between(began.after, ended.by).into()),
        ];
        told.push(wording::say_with("water-lasted", &variables));
    }
    if let Some(last) = changes.last() {
        let variables = [
            ("treatment", word("treatment", last.to.word()).into()),
            ("before", word("treatment", last.from.word()).into()),
            ("after", when::day(last.after.instant().date_naive(), now).into()),
            ("by", when::day(last.by.instant().date_naive(), now).into()),
        ];
        told.push(wording::say_with("water-changed", &variables));
    } else if let Some(oldest) = taken.iter().min_by_key(|taken| taken.taken_at) {
        let variables = [
            ("treatment", word("treatment", oldest.sample.treatment.word()).into()),
            ("since", when::day(oldest.taken_at.instant().date_naive(), now).into()),
        ];
        told.push(wording::say_with("water-unchanged", &variables));
    }
    told
}

fn days(time: TimeDelta) -> i64 {
    time.num_days().max(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_treatment_lasted_between_the_samples_that_hold_it_and_those_that_do_not() {
        let at = |day: &str| format!("{day}T09:00:00Z").parse::<Timestamp>().unwrap();
        let change =
            |after: &str, by: &str, from, to| TreatmentChange { after: at(after), by: at(by), from, to };
        let changes = [
            change("2026-01-01", "2026-02-01", Treatment::None, Treatment::Cartridge),
            change("2026-03-01", "2026-03-11", Treatment::Cartridge, Treatment::Softener),
        ];
        let told = treatments(&[], &changes, at("2026-04-01"));
        assert_eq!(told.len(), 2);
        assert!(told[0].contains("28") && told[0].contains("69"), "{told:?}");
    }
}
