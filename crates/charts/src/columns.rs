//! Counts of equal spans, such as months, side by side.

use std::sync::Arc;

use kuva::prelude::{BarPlot, Layout, Plot, TickFormat};

use crate::picture::SERIES;
use crate::{Picture, Words};

const WIDTH: f64 = 680.0;
const HEIGHT: f64 = 280.0;

/// Every span in its order, also one in which nothing was counted; `counted` is what the axis is called.
pub fn columns(words: &Words, counted: String, spans: &[(String, f64)]) -> Picture {
    let mut bars = BarPlot::new().with_gap(0.3);
    for (name, count) in spans {
        bars = bars.with_colored_bar(name.as_str(), *count, SERIES[0]);
    }
    let highest = spans.iter().map(|(_, count)| *count).fold(1.0, f64::max);
    let plots: Vec<Plot> = vec![bars.into()];
    let layout = Layout::auto_from_plots(&plots)
        .with_width(WIDTH)
        .with_height(HEIGHT)
        // Twelve months do not fit beside one another.
        .with_x_tick_rotate(-45.0)
        .with_y_axis_min(0.0)
        .with_y_axis_max(highest * 1.05)
        .with_y_label(counted)
        .with_y_tick_format(TickFormat::Custom(Arc::new(whole)));
    Picture::draw(words, plots, layout)
}

/// There is no half part.
fn whole(count: f64) -> String {
    if (count - count.round()).abs() < 1e-9 { format!("{count:.0}") } else { String::new() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_span_stands_there_and_counts_are_whole() {
        let words =
            Words { id: "used", title: "Used & fitted".to_owned(), description: "12 in all".to_owned() };
        let spans = [("2026-01".to_owned(), 12.0), ("2026-02".to_owned(), 0.0)];
        let svg = columns(&words, "Parts".to_owned(), &spans).in_page();
        assert!(
            svg.contains("2026-01") && svg.contains("2026-02") && svg.contains("Used &amp; fitted"),
            "{svg}"
        );
        assert!(!svg.contains("style=") && !svg.contains("kuva"), "{svg}");
        assert_eq!([whole(2.0), whole(2.5)], ["2", ""]);
        assert!(columns(&words, "Parts".to_owned(), &[]).as_file().starts_with("<svg "));
    }
}
