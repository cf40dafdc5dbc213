//! How many parts were fitted, month by month.

use std::collections::BTreeMap;

use charts::{Picture, Words, columns};
use chrono::{Months, NaiveDate};

use super::PartsUsage;

pub(super) fn of(view: &PartsUsage) -> Picture {
    let mut counted: BTreeMap<NaiveDate, i64> = BTreeMap::new();
    for item in &view.items {
        if let Some(month) = item.month {
            *counted.entry(month.0).or_default() += item.quantity;
        }
    }
    let all = i64::max(counted.values().sum(), 0);
    let words = Words {
        id: "parts-usage",
        title: wording::say("parts-used-title"),
        description: wording::say_with("parts-used-in-all", &[("count", all.into())]),
    };
    let spans: Vec<(String, f64)> = every_month(&counted)
        .map(|month| {
            let count = counted.get(&month).copied().unwrap_or_default();
            (month.format("%Y-%m").to_string(), count as f64)
        })
        .collect();
    columns(&words, wording::say("parts-used-fitted"), &spans)
}

/// From the first to the last, those between them in which nothing was fitted too.
fn every_month(counted: &BTreeMap<NaiveDate, i64>) -> impl Iterator<Item = NaiveDate> {
    let last = counted.keys().next_back().copied();
    std::iter::successors(counted.keys().next().copied(), |month| month.checked_add_months(Months::new(1)))
        .take_while(move |month| Some(*month) <= last)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_month_without_parts_has_its_place() {
        let month = |year, month| NaiveDate::from_ymd_opt(year, month, 1).unwrap();
        let counted = [(month(2025, 11), 3), (month(2026, 2), 1)].into();
        let all: Vec<NaiveDate> = every_month(&counted).collect();
        assert_eq!(all, [month(2025, 11), month(2025, 12), month(2026, 1), month(2026, 2)]);
        assert_eq!(every_month(&BTreeMap::new()).count(), 0);
    }
}
