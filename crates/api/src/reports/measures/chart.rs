//! The shares with their limits as a picture; how long things last and how often somebody drives there has other axes.

use charts::{Axis, Interval, Picture, Words, intervals};

use super::view::{MeasureFigure, MeasuresView};

pub(super) fn of(view: &MeasuresView) -> Option<Picture> {
    let rows = rows(view);
    let told: Vec<String> = rows
        .iter()
        .map(|row| format!("{}: {:.0} % ({:.0}–{:.0} %)", row.name, row.value, row.lower, row.upper))
        .collect();
    let words = Words {
        id: "measures",
        title: wording::say("measures-title"),
        description: if told.is_empty() { wording::say("measures-no-figure") } else { told.join("; ") },
    };
    let x = Axis { label: "%".to_owned(), from: 0.0, to: 100.0, written: |share| format!("{share:.0}") };
    intervals(&words, &x, None, &rows)
}

/// All orders first, then the groups that are large enough to be compared.
fn rows(view: &MeasuresView) -> Vec<Interval> {
    let mut rows = Vec::new();
    for item in view.measures.iter().filter(|item| item.measure.is_share()) {
        let title = wording::measure::title(item.measure, view.days);
        rows.extend(row(title, &item.all));
        for group in item.groups.iter().filter(|group| group.is_ranked) {
            let name = group.name.clone().unwrap_or_else(|| wording::say("measures-none"));
            // Below its measure: with its name before it there would be no room for the figures.
            rows.extend(row(format!("· {name}"), &group.figure));
        }
    }
    rows
}

fn row(name: String, figure: &MeasureFigure) -> Option<Interval> {
    let share = figure.share.as_ref()?;
    let [value, lower, upper] = [share.value?, share.lower?, share.upper?].map(|share| 100.0 * share);
    Some(Interval { name, value, lower, upper })
}
