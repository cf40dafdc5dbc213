//! Figures with their limits, one below the other on one axis: dots, never bars.

use std::sync::Arc;

use kuva::prelude::{ForestPlot, Layout, Plot, TickFormat};

use crate::picture::SERIES;
use crate::{Axis, Picture, Words};

/// One figure with its limits.
#[derive(Debug, Clone, PartialEq)]
pub struct Interval {
    pub name: String,
    pub value: f64,
    pub lower: f64,
    pub upper: f64,
}

/// More lines than these nobody reads in one picture; the table beside it has them all.
const MOST: usize = 60;
const WIDTH: f64 = 680.0;
const ROW: f64 = 26.0;
const AROUND: f64 = 90.0;

/// From top to bottom as given; where there is a value at which nothing would differ, a line stands there.
pub fn intervals(words: &Words, x: &Axis, nothing: Option<f64>, rows: &[Interval]) -> Picture {
    let mut forest = ForestPlot::new().with_color(SERIES[0]).with_show_null_line(nothing.is_some());
    if let Some(nothing) = nothing {
        forest = forest.with_null_value(nothing);
    }
    let shown = rows.iter().take(MOST);
    for row in shown.clone() {
        let within = |value: f64| value.clamp(x.from, x.to);
        forest = forest.with_row(row.name.as_str(), row.value, within(row.lower), within(row.upper));
    }
    let plots: Vec<Plot> = vec![forest.into()];
    let layout = Layout::auto_from_plots(&plots)
        .with_width(WIDTH)
        .with_height(AROUND + ROW * shown.len() as f64)
        .with_x_axis_min(x.from)
        .with_x_axis_max(x.to)
        .with_x_label(x.label.as_str())
        .with_x_tick_format(TickFormat::Custom(Arc::new(x.written)));
    Picture::draw(words, plots, layout)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_row_is_named_and_nothing_is_inline() {
        let x = Axis { label: "%".to_owned(), from: -10.0, to: 10.0, written: |value| format!("{value:.0}") };
        let words = Words { id: "bias", title: "Bias".to_owned(), description: String::new() };
        let row = |name: &str, value: f64| Interval {
            name: name.to_owned(),
            value,
            lower: value - 2.0,
            upper: value + 2.0,
        };
        let svg =
            intervals(&words, &x, Some(0.0), &[row("First", 1.0), row("Second & last", -3.0)]).in_page();
        assert!(svg.contains("First") && svg.contains("Second &amp; last"), "{svg}");
        assert!(!svg.contains("style=") && !svg.contains("kuva"), "{svg}");
        let bare = intervals(&words, &x, None, &[row("First", 1.0)]).in_page();
        assert!(svg.matches("stroke-dasharray").count() > bare.matches("stroke-dasharray").count());
    }

    #[test]
    fn without_rows_and_with_too_many_it_is_still_a_picture() {
        let x = Axis { label: "%".to_owned(), from: 0.0, to: 1.0, written: |value| format!("{value:.0}") };
        let words = Words { id: "bias", title: "Bias".to_owned(), description: String::new() };
        let rows: Vec<Interval> = (0..MOST + 40)
            .map(|row| Interval {
                name: format!("row {row}"),
                value: 0.5,
                lower: f64::NEG_INFINITY,
                upper: 9.0,
            })
            .collect();
        let svg = intervals(&words, &x, None, &rows).in_page();
        assert!(svg.contains("row 59") && !svg.contains("row 60"), "{svg}");
        assert!(!svg.contains("NaN") && !svg.contains("inf"), "{svg}");
        assert!(intervals(&words, &x, None, &[]).as_file().starts_with("<svg "));
    }
}
