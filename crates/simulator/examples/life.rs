//! Draws the life of one machine of a simulated company as SVG: how bad its worst defects are, day by
//! day, and when somebody called, came and mended.
//!
//!     cargo run --release --example life -p simulator -- --machine 7 life.svg

use std::path::PathBuf;

use clap::Parser;
use domain::id::ApplianceId;
use plotters::prelude::*;
use simulator::company::{Company, Settings};
use simulator::defect::Defect;
use simulator::history::Entry;

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

struct Life {
    /// By defect, its severity on each day.
    severities: Vec<Vec<f64>>,
    calls: Vec<i32>,
    actions: Vec<i32>,
    services: Vec<i32>,
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let arguments = Arguments::parse();
    let settings = Settings { days: arguments.days, stories: false, ..Settings::demo(arguments.seed) };
    let company = Company::new(settings)?;
    let machine = match arguments.machine {
        Some(machine) => machine,
        None => most_called(&company),
    };
    let life = live(&company, machine);
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

fn live(company: &Company, machine: usize) -> Life {
    let mut branch = company.branch(0);
    let id: Option<ApplianceId> = branch.machines().nth(machine);
    let mut life = Life {
        severities: vec![Vec::new(); Defect::COUNT],
        calls: Vec::new(),
        actions: Vec::new(),
        services: Vec::new(),
    };
    let mut of_machine = std::collections::BTreeMap::new();
    let mut day = 0;
    while let Some(entries) = branch.next_day() {
        for truth in branch.take_truths() {
            of_machine.insert(truth.work_order, Some(truth.appliance) == id);
            if Some(truth.appliance) == id {
                life.calls.push(day);
            }
        }
        for dated in entries {
            match dated.entry {
                Entry::WorkOrder(order) if order.call.is_none() => {
                    of_machine.insert(order.id, order.appliance == id);
                    if order.appliance == id {
                        life.services.push(day);
                    }
                }
                Entry::Action(action) if of_machine.get(&action.work_order) == Some(&true) => {
                    life.actions.push(day);
                }
                _ => {}
            }
        }
        for (severities, defect) in life.severities.iter_mut().zip(Defect::ALL) {
            severities.push(branch.severity(machine, *defect));
        }
        day += 1;
    }
    life
}

fn draw(
    life: &Life,
    machine: usize,
    days: i32,
    file: &std::path::Path,
) -> Result<(), Box<dyn std::error::Error>> {
    let root = SVGBackend::new(file, (1100, 520)).into_drawing_area();
    root.fill(&WHITE)?;
    let mut chart = ChartBuilder::on(&root)
        .caption(format!("Life of machine {machine} (simulated, invented company)"), ("sans-serif", 20))
        .margin(12)
        .x_label_area_size(40)
        .y_label_area_size(50)
        .build_cartesian_2d(0..days, 0.0..1.08)?;
    chart.configure_mesh().x_desc("day").y_desc("severity").draw()?;
    let mut worst: Vec<_> = Defect::ALL.iter().zip(&life.severities).collect();
    worst.sort_by(|a, b| b.1.iter().sum::<f64>().total_cmp(&a.1.iter().sum::<f64>()));
    for (index, (defect, severities)) in worst.into_iter().take(8).enumerate() {
        let colour = Palette99::pick(index).to_rgba();
        chart
            .draw_series(LineSeries::new((0..days).zip(severities.iter().copied()), colour.stroke_width(2)))?
            .label(defect.key().replace('_', " "))
            .legend(move |(x, y)| PathElement::new([(x, y), (x + 18, y)], colour.stroke_width(2)));
    }
    let marks: [(&[i32], f64, &RGBColor, &str); 3] = [
        (&life.services, 1.03, &BLUE, "yearly service"),
        (&life.calls, 1.06, &RED, "call"),
        (&life.actions, 1.00, &GREEN, "action taken"),
    ];
    for (at, height, colour, label) in marks {
        chart
            .draw_series(at.iter().map(|day| TriangleMarker::new((*day, height), 5, colour.filled())))?
            .label(label)
            .legend(move |(x, y)| TriangleMarker::new((x + 9, y), 5, colour.filled()));
    }
    let noticeable = (0..days).map(|day| (day, Defect::NOTICEABLE));
    chart.draw_series(LineSeries::new(noticeable, BLACK.mix(0.4)))?;
    chart.configure_series_labels().background_style(WHITE.mix(0.8)).border_style(BLACK.mix(0.3)).draw()?;
    root.present()?;
    Ok(())
}
