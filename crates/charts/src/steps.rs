//! Shares or counts that change at certain ages, each with the band in which it may lie.

use std::sync::Arc;

use kuva::prelude::{BandPlot, Layout, LegendPosition, LinePlot, LineStyle, Plot, TickFormat};

use crate::picture::SERIES;
use crate::{Axis, Picture, Words};

/// From this place on, until the next.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    pub from: f64,
    pub value: f64,
    /// Where the band is known.
    pub limits: Option<(f64, f64)>,
}

/// One curve, begun at its first step and drawn as far as it is known.
#[derive(Debug, Clone)]
pub struct Steps {
    pub name: String,
    pub steps: Vec<Step>,
    pub until: f64,
}

const DASHES: [LineStyle; 4] = [LineStyle::Solid, LineStyle::Dashed, LineStyle::Dotted, LineStyle::DashDot];
const WIDTH: f64 = 680.0;
const HEIGHT: f64 = 320.0;

/// The first four curves; more nobody tells apart.
pub fn steps(words: &Words, x: &Axis, y: &Axis, curves: &[Steps]) -> Picture {
    let mut plots: Vec<Plot> = Vec::new();
    for (curve, (colour, dash)) in curves.iter().zip(SERIES.into_iter().zip(DASHES)) {
        plots.extend(bands(curve, x, y, colour));
        let line = LinePlot::new()
            .with_data(corners(curve, x, |step| Some(step.value)).concat())
            .with_color(colour)
            .with_line_style(dash)
            .with_stroke_width(2.0);
        plots.push(if curves.len() > 1 { line.with_legend(curve.name.as_str()) } else { line }.into());
    }
    let layout = Layout::auto_from_plots(&plots)
        .with_width(WIDTH)
        .with_height(HEIGHT)
        .with_x_axis_min(x.from)
        .with_x_axis_max(x.to)
        .with_y_axis_min(y.from)
        .with_y_axis_max(y.to)
        .with_x_label(x.label.as_str())
        .with_y_label(y.label.as_str())
        .with_x_tick_format(TickFormat::Custom(Arc::new(x.written)))
        .with_y_tick_format(TickFormat::Custom(Arc::new(y.written)))
        .with_legend_position(LegendPosition::OutsideBottomColumns)
        .with_legend_box(false);
    Picture::draw(words, plots, layout)
}

/// The line's corners, apart where a value is not known.
fn corners<T: Copy>(curve: &Steps, x: &Axis, of: impl Fn(&Step) -> Option<T>) -> Vec<Vec<(f64, T)>> {
    let mut parts = vec![Vec::new()];
    for (index, step) in curve.steps.iter().enumerate() {
        let until = curve.steps.get(index + 1).map_or(curve.until.max(step.from), |next| next.from);
        match (of(step), parts.last_mut()) {
            (Some(value), Some(part)) => part.extend([step.from, until].map(|at| (at.min(x.to), value))),
            _ => parts.push(Vec::new()),
        }
    }
    parts.retain(|part| !part.is_empty());
    parts
}

fn bands(curve: &Steps, x: &Axis, y: &Axis, colour: &str) -> Vec<Plot> {
    let within = |value: f64| value.clamp(y.from, y.to);
    let band = |part: Vec<(f64, (f64, f64))>| {
        let (at, limits): (Vec<f64>, Vec<(f64, f64)>) = part.into_iter().unzip();
        let (lower, upper): (Vec<f64>, Vec<f64>) =
            limits.into_iter().map(|(lower, upper)| (within(lower), within(upper))).unzip();
        BandPlot::new(at, lower, upper).with_color(colour).with_opacity(0.18).into()
    };
    corners(curve, x, |step| step.limits).into_iter().map(band).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn axis(label: &str, to: f64) -> Axis {
        Axis { label: label.to_owned(), from: 0.0, to, written: |value| format!("{value:.1}") }
    }

    fn words(title: &str) -> Words {
        Words { id: "life", title: title.to_owned(), description: "Half last <a year>.".to_owned() }
    }

    fn curve(name: &str) -> Steps {
        let step = |from, value, limits| Step { from, value, limits };
        let steps = vec![
            step(0.0, 1.0, None),
            step(120.0, 0.8, Some((0.6, 0.9))),
            step(300.0, 0.5, Some((0.3, 0.7))),
            step(400.0, 0.0, None),
        ];
        Steps { name: name.to_owned(), steps, until: 500.0 }
    }

    #[test]
    fn a_chart_speaks_keeps_to_the_policy_and_takes_the_colours_of_its_page() {
        let (x, y) = (axis("Age", 500.0), axis("Share", 1.0));
        let drawn = steps(&words("Life & death"), &x, &y, &[curve("one <b>"), curve("two")]);
        let (file, page) = (drawn.as_file(), drawn.in_page());
        for svg in [file, page.as_str()] {
            assert!(svg.starts_with("<svg ") && svg.trim_end().ends_with("</svg>"), "{svg}");
            assert!(!svg.contains("style=") && !svg.contains("<style") && !svg.contains("<script"));
            assert!(svg.contains(r#"<title id="life-title">Life &amp; death</title>"#), "{svg}");
            assert!(svg.contains("Half last &lt;a year&gt;.") && svg.contains(r#"role="img""#));
            assert!(!svg.contains("<b>") && !svg.contains("kuva"), "{svg}");
            assert!(svg.contains("stroke-dasharray"), "the second curve differs by more than its colour");
        }
        assert!(file.contains("fill=\"#ffffff\"") && !file.contains("var(--"));
        assert!(page.contains("var(--series-1, #0072b2)") && page.contains("var(--ink, #1b1f22)"));
        assert!(!page.contains(r#"<rect width="100%""#), "a page has its own paper");
    }

    #[test]
    fn a_step_is_drawn_flat_and_its_band_only_where_it_is_known() {
        let found = corners(&curve("one"), &axis("Age", 450.0), |step| step.limits);
        let at: Vec<Vec<f64>> = found.iter().map(|part| part.iter().map(|(at, _)| *at).collect()).collect();
        assert_eq!(at, [vec![120.0, 300.0, 300.0, 400.0]]);
        let line = corners(&curve("one"), &axis("Age", 450.0), |step| Some(step.value)).concat();
        assert_eq!(line.last(), Some(&(450.0, 0.0)));
    }
}
