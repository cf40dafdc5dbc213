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

const WIDTH: f64 = 680.0;
const ROW: f64 = 26.0;
const AROUND: f64 = 90.0;

/// From top to bottom as given; `nothing` is where no difference would lie.
pub fn intervals(words: &Words, x: &Axis, nothing: f64, rows: &[Interval]) -> Picture {
    let mut forest = ForestPlot::new().with_color(SERIES[0]).with_null_value(nothing);
    for row in rows {
        forest = forest.with_row(row.name.as_str(), row.value, row.lower, row.upper);
    }
    let plots: Vec<Plot> = vec![forest.into()];
    let layout = Layout::auto_from_plots(&plots)
        .with_width(WIDTH)
        .with_height(AROUND + ROW * rows.len() as f64)
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
        let svg = intervals(&words, &x, 0.0, &[row("First", 1.0), row("Second & last", -3.0)]).in_page();
        assert!(svg.contains("First") && svg.contains("Second &amp; last"), "{svg}");
        assert!(!svg.contains("style=") && !svg.contains("kuva"), "{svg}");
    }
}
