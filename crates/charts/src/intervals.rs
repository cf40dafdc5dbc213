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

/// More lines than these nobody reads in one picture.
pub const MOST_INTERVALS: usize = 60;
const WIDTH: f64 = 680.0;
const ROW: f64 = 26.0;
const AROUND: f64 = 90.0;

/// From top to bottom as given; where there is a value at which nothing would differ, a line stands there. None where there are
/// more than [`MOST_INTERVALS`]: a picture that was cut short would look whole.
pub fn intervals(words: &Words, x: &Axis, nothing: Option<f64>, rows: &[Interval]) -> Option<Picture> {
    if rows.len() > MOST_INTERVALS {
        return None;
    }
    let mut forest = ForestPlot::new().with_color(SERIES[0]).with_show_null_line(nothing.is_some());
    if let Some(nothing) = nothing {
        forest = forest.with_null_value(nothing);
    }
    for row in rows {
        let within = |value: f64| value.clamp(x.from, x.to);
        forest = forest.with_row(row.name.as_str(), row.value, within(row.lower), within(row.upper));
    }
    let plots: Vec<Plot> = vec![forest.into()];
    // A mark that stands at an end is not cut in half.
    let margin = 0.02 * (x.to - x.from);
    let layout = Layout::auto_from_plots(&plots)
        .with_width(WIDTH)
        .with_height(AROUND + ROW * rows.len() as f64)
        .with_x_axis_min(x.from - margin)
        .with_x_axis_max(x.to + margin)
        .with_x_label(x.label.as_str())
        .with_x_tick_format(TickFormat::Custom(Arc::new(x.written)));
    Some(Picture::draw(words, plots, layout))
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
        let svg = intervals(&words, &x, Some(0.0), &[row("First", 1.0), row("Second & last", -3.0)])
            .unwrap()
            .in_page();
        assert!(svg.contains("First") && svg.contains("Second &amp; last"), "{svg}");
        assert!(!svg.contains("style=") && !svg.contains("kuva"), "{svg}");
        let bare = intervals(&words, &x, None, &[row("First", 1.0)]).unwrap().in_page();
        assert!(svg.matches("stroke-dasharray").count() > bare.matches("stroke-dasharray").count());
    }

    #[test]
    fn none_is_a_picture_still_and_too_many_are_none() {
        let x = Axis { label: "%".to_owned(), from: 0.0, to: 1.0, written: |value| format!("{value:.0}") };
        let words = Words { id: "bias", title: "Bias".to_owned(), description: String::new() };
        let rows: Vec<Interval> = (0..=MOST_INTERVALS)
            .map(|row| Interval {
                name: format!("row {row}"),
                value: 0.5,
                lower: f64::NEG_INFINITY,
                upper: 9.0,
            })
            .collect();
        assert_eq!(intervals(&words, &x, None, &rows), None);
        let svg = intervals(&words, &x, None, &rows[1..]).unwrap().in_page();
        assert!(svg.contains("row 1<") && svg.contains("row 60"), "{svg}");
        assert!(!svg.contains("NaN") && !svg.contains("inf"), "{svg}");
        assert!(intervals(&words, &x, None, &[]).unwrap().as_file().starts_with("<svg "));
    }
}
