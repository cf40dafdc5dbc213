//! The rates of those that stand out, as multiples of the fleet's.

use charts::{Axis, Interval, Picture, Words, intervals};

use super::{FleetRepeatsView, RepeatsItem};

pub(super) fn of(view: &FleetRepeatsView) -> Option<Picture> {
    let rows: Vec<Interval> = view.items.iter().filter_map(row).collect();
    let counts = [("listed", view.items.len().into()), ("considered", view.considered.into())];
    let words = Words {
        id: "repeats",
        title: wording::say("repeats-title"),
        description: wording::say_with("repeats-lead", &counts),
    };
    let farthest = rows.iter().map(|row| row.upper).fold(2.0, f64::max);
    let x = Axis {
        label: wording::say("repeats-column-rate"),
        from: 0.0,
        to: farthest,
        written: |times| format!("{times:.1}"),
    };
    // A line stands where a kitchen fails as often as the others do.
    intervals(&words, &x, Some(1.0), &rows)
}

fn row(item: &RepeatsItem) -> Option<Interval> {
    let rate = item.against_fleet.rate.as_ref()?;
    let name = match item.position {
        Some(position) => format!("{}, {}", item.site_name, wording::term("position", position.key())),
        None => item.site_name.to_string(),
    };
    Some(Interval { name, value: rate.mean, lower: rate.lower, upper: rate.upper })
}
