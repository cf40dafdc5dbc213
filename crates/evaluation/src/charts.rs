//! Reliability diagrams and the curve of accuracy against minutes, as SVG.

use std::path::Path;

use plotters::coord::Shift;
use plotters::prelude::*;

use crate::course::{Course, WORTHS};
use crate::measures::reliability;
use crate::report::{Stopped, at, forecasts, visits};
use crate::tier::{Courses, Results, Tier};

type Fallible = Result<(), Box<dyn std::error::Error>>;

const INK: RGBColor = RGBColor(40, 44, 52);
const FAINT: RGBColor = RGBColor(205, 209, 216);
const BLUE: RGBColor = RGBColor(31, 102, 176);
const ORANGE: RGBColor = RGBColor(207, 98, 20);

pub fn draw(folder: &Path, results: &[Results]) -> Fallible {
    for results in results {
        let tier = match results.tier {
            Tier::A => "a",
            Tier::B => "b",
        };
        reliability_diagrams(&folder.join(format!("reliability-tier-{tier}.svg")), results)?;
        if !results.courses.is_empty() {
            curve(&folder.join(format!("minutes-tier-{tier}.svg")), results)?;
        }
    }
    Ok(())
}

fn reliability_diagrams(file: &Path, results: &Results) -> Fallible {
    let area = SVGBackend::new(file, (960, 700)).into_drawing_area();
    area.fill(&WHITE)?;
    let title = format!("Reliability, tier {:?}, n = {}", results.tier, results.outcomes.len());
    let area = area.titled(&title, ("sans-serif", 22).into_font().color(&INK))?;
    let [sets, faults, _, nothing] = forecasts(results);
    let shown = [sets, faults, nothing, ("first visit ends the job", visits(results))];
    for (panel, (name, forecasts)) in area.split_evenly((2, 2)).into_iter().zip(&shown) {
        diagram(&panel, name, forecasts)?;
    }
    area.present()?;
    Ok(())
}

fn diagram(
    panel: &DrawingArea<SVGBackend, Shift>,
    name: &str,
    forecasts: &crate::measures::Forecasts,
) -> Fallible {
    let Some(calibration) = reliability(forecasts) else { return Ok(()) };
    let mut chart = ChartBuilder::on(panel)
        .caption(
            format!("{name}: expected error {:.3}", calibration.expected_error),
            ("sans-serif", 17).into_font().color(&INK),
        )
        .margin(12)
        .x_label_area_size(38)
        .y_label_area_size(48)
        .build_cartesian_2d(0.0..1.0, 0.0..1.0)?;
    chart
        .configure_mesh()
        .light_line_style(TRANSPARENT)
        .bold_line_style(FAINT.mix(0.6))
        .x_desc("probability said")
        .y_desc("share that was so")
        .axis_desc_style(("sans-serif", 14).into_font().color(&INK))
        .label_style(("sans-serif", 13).into_font().color(&INK))
        .x_labels(6)
        .y_labels(6)
        .draw()?;
    chart.draw_series(LineSeries::new([(0.0, 0.0), (1.0, 1.0)], FAINT.stroke_width(2)))?;
    // 95 % of a bin's share about what was said, by the normal approximation.
    chart.draw_series(calibration.bins.iter().map(|bin| {
        let half = 1.96 * (bin.frequency * (1.0 - bin.frequency) / bin.count.max(1) as f64).sqrt().max(1e-9);
        let (x, y) = (bin.mean_probability, bin.frequency);
        PathElement::new(vec![(x, (y - half).max(0.0)), (x, (y + half).min(1.0))], BLUE.stroke_width(2))
    }))?;
    chart.draw_series(
        calibration
            .bins
            .iter()
            .map(|bin| Circle::new((bin.mean_probability, bin.frequency), 4, BLUE.filled())),
    )?;
    Ok(())
}

fn point(stopped: &Stopped) -> (f64, f64) {
    (stopped.minutes, stopped.right)
}

fn curve(file: &Path, results: &Results) -> Fallible {
    let area = SVGBackend::new(file, (860, 520)).into_drawing_area();
    area.fill(&WHITE)?;
    let title = format!("Accuracy against minutes, tier {:?}, n = {}", results.tier, results.courses.len());
    let points = |course: fn(&Courses) -> &Course| -> Vec<(f64, f64)> {
        WORTHS.iter().rev().map(|worth| point(&at(&results.courses, *worth, course))).collect()
    };
    let (engine, cheapest) = (points(|of| &of.engine), points(|of| &of.cheapest));
    let whole = results.courses.iter().filter(|of| of.whole.right).count() as f64
        / results.courses.len().max(1) as f64;
    let least = engine.iter().chain(&cheapest).map(|point| point.1).fold(whole, f64::min);
    let (bottom, top) = ((least - 0.05).max(0.0), (whole + 0.05).min(1.0));
    let mut chart = ChartBuilder::on(&area)
        .caption(title, ("sans-serif", 22).into_font().color(&INK))
        .margin(16)
        .x_label_area_size(46)
        .y_label_area_size(62)
        .build_cartesian_2d(0.0..1.0, bottom..top)?;
    chart
        .configure_mesh()
        .light_line_style(TRANSPARENT)
        .bold_line_style(FAINT.mix(0.6))
        .x_desc("minutes, as share of the whole checklist")
        .y_desc("share of cases whose most probable set is the true one")
        .axis_desc_style(("sans-serif", 15).into_font().color(&INK))
        .label_style(("sans-serif", 14).into_font().color(&INK))
        .draw()?;
    chart
        .draw_series(DashedLineSeries::new([(0.0, whole), (1.0, whole)], 6, 4, INK.stroke_width(1)))?
        .label("whole checklist")
        .legend(|(x, y)| PathElement::new([(x, y), (x + 22, y)], INK.stroke_width(1)));
    for (name, points, colour) in [("engine", &engine, BLUE), ("cheapest first", &cheapest, ORANGE)] {
        chart
            .draw_series(LineSeries::new(points.iter().copied(), colour.stroke_width(2)))?
            .label(name)
            .legend(move |(x, y)| PathElement::new([(x, y), (x + 22, y)], colour.stroke_width(2)));
        chart.draw_series(points.iter().map(|point| Circle::new(*point, 3, colour.filled())))?;
    }
    // Where the engine stops by itself.
    let stop = point(&at(&results.courses, 1.0, |of| &of.engine));
    chart.draw_series([Circle::new(stop, 7, BLUE.stroke_width(2))])?;
    chart
        .configure_series_labels()
        .position(SeriesLabelPosition::LowerRight)
        .background_style(WHITE.mix(0.9))
        .border_style(FAINT)
        .label_font(("sans-serif", 15).into_font().color(&INK))
        .draw()?;
    area.present()?;
    Ok(())
}
