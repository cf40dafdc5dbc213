use super::super::table::{Cell, Table};
use super::view::{MeasureFigure, MeasureQuantile, MeasuresView};

/// A line for each measure of all orders, and of each group.
pub(super) fn of(view: &MeasuresView) -> Table<'_> {
    let mut rows = Vec::new();
    for item in &view.measures {
        let mut add = |group: &str, name: &str, is_ranked: bool, figure: &MeasureFigure| {
            let mut row = vec![Cell::text(Some(item.measure.word())), cell(group), cell(name)];
            row.push(if is_ranked { Cell::Empty } else { Cell::text(Some("too_few")) });
            row.extend(cells(figure));
            rows.push(row);
        };
        add("", "", true, &item.all);
        for group in &item.groups {
            let text = |text: &Option<String>| text.clone().unwrap_or_default();
            add(&text(&group.group), &text(&group.name), group.is_ranked, &group.figure);
        }
    }
    Table {
        name: "measures",
        header: vec![
            "measure",
            "group",
            "group_name",
            "too_few",
            "numerator",
            "denominator",
            "value",
            "lower",
            "upper",
            "n",
            "open",
            "median_hours",
            "median_lower",
            "median_upper",
            "nine_tenths_hours",
            "nine_tenths_lower",
            "nine_tenths_upper",
            "immature",
            "left_out",
            "year_before_value",
            "chance",
        ],
        rows: Box::new(rows.into_iter()),
    }
}

fn cell(text: &str) -> Cell {
    if text.is_empty() { Cell::Empty } else { Cell::text(Some(text)) }
}

fn quantile(of: Option<&MeasureQuantile>) -> [Cell; 3] {
    let [lower, upper] = [of.and_then(|of| of.lower), of.and_then(|of| of.upper)];
    [of.map(|of| of.hours), lower, upper].map(Cell::number)
}

fn cells(figure: &MeasureFigure) -> Vec<Cell> {
    let mut cells = match &figure.share {
        Some(share) => vec![
            Cell::Count(share.numerator.into()),
            Cell::Count(share.denominator.into()),
            Cell::number(share.value),
            Cell::number(share.lower),
            Cell::number(share.upper),
        ],
        None => vec![Cell::Empty; 5],
    };
    match &figure.duration {
        Some(duration) => {
            cells.extend([Cell::Count(duration.n.into()), Cell::Count(duration.open.into())]);
            cells.extend(quantile(duration.median.as_ref()));
            cells.extend(quantile(duration.nine_tenths.as_ref()));
        }
        None => cells.extend(vec![Cell::Empty; 8]),
    }
    let left_out = figure.left_out.iter().map(|left_out| format!("{} {}", left_out.orders, left_out.why));
    cells.push(Cell::Count(figure.immature.into()));
    cells.push(cell(&left_out.collect::<Vec<_>>().join("; ")));
    let before = figure.year_before.as_ref();
    let value = before.and_then(|before| match (&before.share, &before.duration) {
        (Some(share), _) => share.value,
        (None, Some(duration)) => duration.median.as_ref().map(|median| median.hours),
        (None, None) => None,
    });
    cells.extend([value, before.and_then(|before| before.chance)].map(Cell::number));
    cells
}
