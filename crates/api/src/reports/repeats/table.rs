use domain::vocabulary::Position;

use super::super::table::{Cell, Table};
use super::{FleetRepeatsView, RepeatsItem};

/// A line for each that stands out.
pub(super) fn of(view: &FleetRepeatsView) -> Table<'_> {
    Table {
        name: "repeats",
        header: vec![
            "site_id",
            "site_name",
            "customer_name",
            "position",
            "n",
            "expected",
            "chance",
            "q",
            "rate",
            "lower",
            "upper",
            "exceeds_twice",
        ],
        rows: Box::new(view.items.iter().map(row)),
    }
}

fn row(item: &RepeatsItem) -> Vec<Cell> {
    let against = &item.against_fleet;
    let rate = against.rate.as_ref();
    let mut row = vec![
        Cell::Text(item.site_id.to_string()),
        Cell::Text(item.site_name.to_string()),
        Cell::text(item.customer_name.as_ref().map(ToString::to_string)),
        Cell::text(item.position.map(Position::key)),
        Cell::Count(against.n.into()),
        Cell::Number(against.expected),
    ];
    let figures = [
        against.chance,
        against.q,
        rate.map(|rate| rate.mean),
        rate.map(|rate| rate.lower),
        rate.map(|rate| rate.upper),
        rate.map(|rate| rate.exceeds_twice),
    ];
    row.extend(figures.map(Cell::number));
    row
}
