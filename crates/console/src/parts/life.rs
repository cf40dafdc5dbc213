//! How a reading went over the machine's life: points in time, a break at each repair of its position.

use askama::Template;
use domain::known_good::drift::DriftChart;
use domain::quantity::Scale as Spacing;
use domain::time::Timestamp;

const WIDTH: f64 = 420.0;
const HEIGHT: f64 = 44.0;
const MARGIN: f64 = 5.0;

/// A life, ready to be drawn.
#[derive(Debug, Clone, Template)]
#[template(path = "parts/life.html")]
pub(crate) struct Life {
    label: String,
    /// What was read between two repairs, as one line each.
    lines: Vec<String>,
    /// Each with whether a drift was signalled there.
    points: Vec<(String, String, bool)>,
    breaks: Vec<String>,
}

/// Its template escapes what it is given.
impl askama::filters::HtmlSafe for Life {}

impl Life {
    pub fn of(chart: &DriftChart, from: Timestamp, to: Timestamp, label: String) -> Self {
        let scaled = |value: f64| match chart.scale {
            Spacing::Logarithmic => value.max(f64::MIN_POSITIVE).ln(),
            Spacing::Linear => value,
        };
        let seconds = |at: Timestamp| (at.instant() - from.instant()).num_seconds() as f64;
        let length = seconds(to).max(1.0);
        let values = || chart.points.iter().map(|point| scaled(point.reading.value));
        let (low, high) = values()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| (low.min(value), high.max(value)));
        // Two readings that hardly differ are drawn as such.
        let middle = f64::midpoint(low, high);
        let half = ((high - low) / 2.0).max(0.05 * middle.abs()).max(0.02);
        let x = |at: Timestamp| MARGIN + (WIDTH - 2.0 * MARGIN) * seconds(at) / length;
        let y = |value: f64| HEIGHT / 2.0 - (HEIGHT / 2.0 - MARGIN) * (scaled(value) - middle) / half;
        let (mut lines, mut points, mut breaks) = (Vec::<String>::new(), Vec::new(), Vec::new());
        let mut segment = None;
        let mut before: Option<Timestamp> = None;
        for point in &chart.points {
            let (at, value) = (point.reading.taken_at, point.reading.value);
            let place = format!("{:.1},{:.1}", x(at), y(value));
            if segment == Some(point.segment) {
                if let Some(line) = lines.last_mut() {
                    line.push(' ');
                    line.push_str(&place);
                }
            } else {
                if let Some(before) = before {
                    breaks.push(format!("{:.1}", f64::midpoint(x(before), x(at))));
                }
                lines.push(place);
                segment = Some(point.segment);
            }
            before = Some(at);
            points.push((format!("{:.1}", x(at)), format!("{:.1}", y(value)), !point.signals.is_empty()));
        }
        Self { label, lines, points, breaks }
    }
}
