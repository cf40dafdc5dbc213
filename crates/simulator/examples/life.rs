//! Draws the life of one machine of a simulated company as SVG: above, how bad its worst defects are, day by
//! day, and when somebody called, came and mended; below, the fill times that were read meanwhile.
//!
//!     cargo run --release --example life -p simulator -- --machine 7 life.svg

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use clap::Parser;
use domain::evidence::TestRun;
use domain::id::WorkOrderId;
use plotters::coord::Shift;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};
use simulator::company::{Company, Settings};
use simulator::defect::Defect;
use simulator::history::Entry;

type Failure = Box<dyn std::error::Error>;
type Area<'a> = DrawingArea<SVGBackend<'a>, Shift>;

#[derive(Parser)]
struct Arguments {
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Which machine of the first branch, from 0; without it the one with the most calls.
    #[arg(long)]
    machine: Option<usize>,
    #[arg(long, default_value_t = 1461)]
    days: u32,
    file: PathBuf,
}

#[derive(Default)]
struct Life {
    /// By defect, its severity on each day.
    severities: Vec<Vec<f64>>,
    calls: Vec<i32>,
    /// Each day on which anything was mended, cleaned or replaced.
    mended: Vec<i32>,
    services: Vec<i32>,
    fills: Vec<(i32, FillRead)>,
    /// Until when a fill of its model must be done.
    fill_limit_s: Option<f64>,
}

#[derive(Clone, Copy)]
struct FillRead {
    seconds: f64,
    /// The technician gave up by then.
    not_full: bool,
}

fn main() -> Result<(), Failure> {
    let arguments = Arguments::parse();
    let settings = Settings { days: arguments.days, stories: false, ..Settings::demo(arguments.seed) };
    let company = Company::new(settings)?;
    let machine = match arguments.machine {
        Some(machine) => machine,
        None => most_called(&company),
    };
    let life = live(&company, machine)?;
    draw(&life, machine, i32::try_from(arguments.days)?, &arguments.file)?;
    println!("wrote {}", arguments.file.display());
    Ok(())
}

fn most_called(company: &Company) -> usize {
    let mut branch = company.branch(0);
    let machines: Vec<_> = branch.machines().collect();
    let mut calls = vec![0u32; machines.len()];
    while branch.next_day().is_some() {
        for truth in branch.take_truths() {
            if let Some(index) = machines.iter().position(|machine| *machine == truth.appliance) {
                calls[index] += 1;
            }
        }
    }
    (0..calls.len()).max_by_key(|index| calls[*index]).unwrap_or(0)
}

fn live(company: &Company, machine: usize) -> Result<Life, Failure> {
    let mut branch = company.branch(0);
    let Some(id) = branch.machines().nth(machine) else {
        let machines = branch.machines().count();
        return Err(format!("the first branch has {machines} machines: --machine is from 0 to that").into());
    };
    let mut life = Life { severities: vec![Vec::new(); Defect::COUNT], ..Life::default() };
    let mut of_machine: BTreeMap<WorkOrderId, bool> = BTreeMap::new();
    let mut day = 0;
    while let Some(entries) = branch.next_day() {
        for truth in branch.take_truths() {
            of_machine.insert(truth.work_order, truth.appliance == id);
            if truth.appliance == id {
                life.calls.push(day);
                life.fill_limit_s = Some(truth.design.fill_limit_s);
            }
        }
        for dated in entries {
            match dated.entry {
                Entry::WorkOrder(order) if order.call.is_none() => {
                    let is_ours = order.appliance == Some(id);
                    of_machine.insert(order.id, is_ours);
                    life.services.extend(is_ours.then_some(day));
                }
                Entry::Action(action) if of_machine.get(&action.work_order) == Some(&true) => {
                    life.mended.push(day);
                }
                Entry::TestRun(run) if run.appliance == id => {
                    life.fills.extend(fill(&run).map(|read| (day, read)));
                }
                _ => {}
            }
        }
        for (severities, defect) in life.severities.iter_mut().zip(Defect::ALL) {
            severities.push(branch.severity(machine, *defect));
        }
        day += 1;
    }
    life.mended.dedup();
    Ok(life)
}

fn fill(run: &TestRun) -> Option<FillRead> {
    let reading = run.readings.iter().find(|reading| reading.step.as_str() == "fill_time")?;
    let value = reading.value.as_ref()?;
    Some(FillRead { seconds: value.as_read.value, not_full: value.censored.is_some() })
}

const FONT: &str = "sans-serif";
const GREY: RGBColor = RGBColor(90, 90, 90);
const CALL: RGBColor = RGBColor(200, 30, 30);
const MENDED: RGBColor = RGBColor(20, 130, 60);
const SERVICE: RGBColor = RGBColor(30, 90, 200);
/// Told apart by those who do not see all colours, too.
const LINES: [RGBColor; 6] = [
    RGBColor(0, 114, 178),
    RGBColor(213, 94, 0),
    RGBColor(0, 158, 115),
    RGBColor(204, 121, 167),
    RGBColor(140, 110, 0),
    RGBColor(86, 180, 233),
];

fn draw(life: &Life, machine: usize, days: i32, file: &Path) -> Result<(), Failure> {
    let root = SVGBackend::new(file, (1200, 760)).into_drawing_area();
    root.fill(&WHITE)?;
    let title = format!("Four years of machine {machine} of a simulated company (invented)");
    let title = if days == 1461 { title } else { format!("{days} days of machine {machine} (invented)") };
    let root = root.titled(&title, (FONT, 22))?;
    let (above, below) = root.split_vertically(480);
    draw_severities(&above, life, days)?;
    draw_fills(&below, life, days)?;
    root.present()?;
    Ok(())
}

fn years(days: i32) -> f64 {
    f64::from(days) / 365.25
}

fn draw_severities(area: &Area, life: &Life, days: i32) -> Result<(), Failure> {
    const LEGEND: u32 = 250;
    let (width, _) = area.dim_in_pixel();
    let (chart_area, legend) = area.split_horizontally(width - LEGEND);
    let mut chart = ChartBuilder::on(&chart_area)
        .margin(12)
        .x_label_area_size(36)
        .y_label_area_size(64)
        .build_cartesian_2d(0.0..years(days), 0.0..1.22)?;
    chart
        .configure_mesh()
        .x_labels(9)
        .x_label_formatter(&|years| format!("{years:.1}"))
        .y_labels(7)
        .y_label_formatter(&|severity| {
            if *severity > 1.01 { String::new() } else { format!("{severity:.1}") }
        })
        .y_desc("severity (0 sound, 1 as bad as can be)")
        .label_style((FONT, 14))
        .axis_desc_style((FONT, 15))
        .max_light_lines(0)
        .bold_line_style(BLACK.mix(0.15))
        .draw()?;
    let noticeable = [(0.0, Defect::NOTICEABLE), (years(days), Defect::NOTICEABLE)];
    chart.draw_series(DashedLineSeries::new(noticeable, 6, 4, GREY.stroke_width(1)))?;
    let mut worst: Vec<_> = Defect::ALL.iter().zip(&life.severities).collect();
    let peak = |severities: &[f64]| severities.iter().copied().fold(0.0, f64::max);
    worst.sort_by(|a, b| peak(b.1).total_cmp(&peak(a.1)));
    let mut place = 40;
    legend.draw(&Text::new("Its six worst defects", (8, 16), (FONT, 15)))?;
    for ((defect, severities), colour) in worst.into_iter().zip(LINES) {
        let points = (0..days).map(years).zip(severities.iter().copied());
        chart.draw_series(LineSeries::new(points, colour.stroke_width(2)))?;
        legend.draw(&PathElement::new([(8, place), (32, place)], colour.stroke_width(3)))?;
        legend.draw(&Text::new(defect.key().replace('_', " "), (40, place - 7), (FONT, 14)))?;
        place += 22;
    }
    legend.draw(&PathElement::new([(8, place), (18, place)], GREY.stroke_width(1)))?;
    legend.draw(&PathElement::new([(22, place), (32, place)], GREY.stroke_width(1)))?;
    legend.draw(&Text::new("noticed from here on", (40, place - 7), (FONT, 14)))?;
    let marks: [(&[i32], f64, RGBColor, String); 3] = [
        (&life.calls, 1.18, CALL, format!("call ({})", life.calls.len())),
        (&life.mended, 1.12, MENDED, format!("mended or cleaned (on {} days)", life.mended.len())),
        (&life.services, 1.06, SERVICE, format!("yearly service ({})", life.services.len())),
    ];
    place += 34;
    for (at, height, colour, label) in marks {
        chart.draw_series(
            at.iter().map(|day| TriangleMarker::new((years(*day), height), 6, colour.filled())),
        )?;
        legend.draw(&TriangleMarker::new((20, place), 6, colour.filled()))?;
        legend.draw(&Text::new(label, (40, place - 7), (FONT, 14)))?;
        place += 22;
    }
    Ok(())
}

fn draw_fills(area: &Area, life: &Life, days: i32) -> Result<(), Failure> {
    const LEGEND: u32 = 250;
    let (width, _) = area.dim_in_pixel();
    let (chart_area, legend) = area.split_horizontally(width - LEGEND);
    let longest =
        life.fills.iter().map(|(_, read)| read.seconds).fold(life.fill_limit_s.unwrap_or(20.0), f64::max);
    let mut chart = ChartBuilder::on(&chart_area)
        .margin(12)
        .x_label_area_size(48)
        .y_label_area_size(64)
        .build_cartesian_2d(0.0..years(days), 0.0..longest * 1.1)?;
    chart
        .configure_mesh()
        .x_labels(9)
        .x_label_formatter(&|years| format!("{years:.1}"))
        .x_desc("years since the history began")
        .y_labels(6)
        .y_label_formatter(&|seconds| format!("{seconds:.0}"))
        .y_desc("fill time as read, s")
        .label_style((FONT, 14))
        .axis_desc_style((FONT, 15))
        .max_light_lines(0)
        .bold_line_style(BLACK.mix(0.15))
        .draw()?;
    if let Some(limit) = life.fill_limit_s {
        let line = [(0.0, limit), (years(days), limit)];
        chart.draw_series(DashedLineSeries::new(line, 6, 4, CALL.stroke_width(1)))?;
        let style = (FONT, 13).into_font().color(&CALL).pos(Pos::new(HPos::Left, VPos::Bottom));
        chart.draw_series([Text::new(format!("limit {limit:.0} s"), (years(days) / 100.0, limit), style)])?;
    }
    for (day, read) in &life.fills {
        let at = (years(*day), read.seconds);
        if read.not_full {
            chart.plotting_area().draw(&Cross::new(at, 5, CALL.stroke_width(2)))?;
        } else {
            chart.plotting_area().draw(&Circle::new(at, 4, LINES[0].filled()))?;
        }
    }
    let given_up = life.fills.iter().filter(|(_, read)| read.not_full).count();
    legend.draw(&Circle::new((20, 24), 4, LINES[0].filled()))?;
    legend.draw(&Text::new(format!("filled ({})", life.fills.len() - given_up), (40, 17), (FONT, 14)))?;
    legend.draw(&Cross::new((20, 46), 5, CALL.stroke_width(2)))?;
    legend.draw(&Text::new(format!("not full by then ({given_up})"), (40, 39), (FONT, 14)))?;
    Ok(())
}
