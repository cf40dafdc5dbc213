use super::super::csv_answer::Table;
use super::view::{MeasureFigure, MeasureQuantile, MeasuresView};

/// A line for each measure of all orders, and of each group.
pub(super) fn of(view: &MeasuresView) -> Table {
    let mut rows = Vec::new();
    for item in &view.measures {
        let mut add = |group: &str, name: &str, is_ranked: bool, figure: &MeasureFigure| {
            let mut row = vec![item.measure.to_string(), group.to_owned(), name.to_owned()];
            row.push(if is_ranked { "" } else { "too_few" }.to_owned());
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
        rows,
    }
}

fn number(value: Option<f64>) -> String {
    value.map(|value| value.to_string()).unwrap_or_default()
}

fn quantile(of: Option<&MeasureQuantile>) -> [String; 3] {
    [number(of.map(|of| of.hours)), number(of.and_then(|of| of.lower)), number(of.and_then(|of| of.upper))]
}

fn cells(figure: &MeasureFigure) -> Vec<String> {
    let mut cells = match &figure.share {
        Some(share) => vec![
            share.numerator.to_string(),
            share.denominator.to_string(),
            number(share.value),
            number(share.lower),
            number(share.upper),
        ],
        None => vec![String::new(); 5],
    };
    match &figure.duration {
        Some(duration) => {
            cells.extend([duration.n.to_string(), duration.open.to_string()]);
            cells.extend(quantile(duration.median.as_ref()));
            cells.extend(quantile(duration.nine_tenths.as_ref()));
        }
        None => cells.extend(vec![String::new(); 8]),
    }
    let left_out = figure.left_out.iter().map(|left_out| format!("{} {}", left_out.orders, left_out.why));
    cells.push(figure.immature.to_string());
    cells.push(left_out.collect::<Vec<_>>().join("; "));
    let before = figure.year_before.as_ref();
    let value = before.and_then(|before| match (&before.share, &before.duration) {
        (Some(share), _) => share.value,
        (None, Some(duration)) => duration.median.as_ref().map(|median| median.hours),
        (None, None) => None,
    });
    cells.extend([number(value), number(before.and_then(|before| before.chance))]);
    cells
}
