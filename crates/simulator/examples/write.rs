//! Writes what the simulator makes as JSON lines to standard output: the same bytes for the same seed.
//!
//!     cargo run --release --example write -p simulator -- history --kitchens 40 --days 731
//!     cargo run --release --example write -p simulator -- physical-cases --count 1000
//!     cargo run --release --example write -p simulator -- catalogue-cases --count 1000
//!     cargo run --release --example write -p simulator -- planted --excess 3

use std::io::Write as _;

use clap::{Parser, Subcommand};
use domain::equipment::{demo_combi, demo_combi_faults};
use indicatif::ProgressBar;
use serde::Serialize;
use simulator::cases::catalogue::CatalogueCases;
use simulator::cases::physical::PhysicalCases;
use simulator::company::{Company, Settings};
use simulator::planted::Plan;

#[derive(Parser)]
struct Arguments {
    #[arg(long, default_value_t = 1, global = true)]
    seed: u64,
    #[command(subcommand)]
    what: What,
}

#[derive(Subcommand)]
enum What {
    /// A company's history in the order of time.
    History {
        #[arg(long, default_value_t = 40)]
        kitchens: usize,
        #[arg(long, default_value_t = 731)]
        days: u32,
    },
    /// Labelled cases of the simulator's own physics.
    PhysicalCases {
        #[arg(long, default_value_t = 1000)]
        count: usize,
    },
    /// Labelled cases of the catalogue's model.
    CatalogueCases {
        #[arg(long, default_value_t = 1000)]
        count: usize,
    },
    /// A fleet with planted excess kitchens.
    Planted {
        #[arg(long, default_value_t = 2000)]
        background: usize,
        #[arg(long, default_value_t = 30)]
        planted: usize,
        #[arg(long, default_value_t = 3.0)]
        excess: f64,
        #[arg(long)]
        heterogeneity: Option<f64>,
    },
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let Arguments { seed, what } = Arguments::parse();
    match what {
        What::History { kitchens, days } => {
            let company = Company::new(Settings { kitchens, days, ..Settings::demo(seed) })?;
            let bar = ProgressBar::new(u64::from(days));
            write(company.history(|days| bar.set_position(days)))?;
            bar.finish_and_clear();
            Ok(())
        }
        What::PhysicalCases { count } => write(counted(PhysicalCases::new(seed, "demo_combi")?, count)),
        What::CatalogueCases { count } => {
            let cases = CatalogueCases::new(seed, demo_combi(), demo_combi_faults());
            write(counted(cases.ok_or("the demo combi's circuit is not fully described")?, count))
        }
        What::Planted { background, planted, excess, heterogeneity } => {
            let plan = Plan {
                seed,
                background,
                planted,
                strata: vec![4.0, 8.0, 12.0, 20.0],
                excess,
                heterogeneity,
                start: Settings::demo(seed).start,
                years: 3.0,
            };
            let kitchens = plan.kitchens();
            write(counted(plan.fleet()?, kitchens))
        }
    }
}

fn counted<T>(items: impl Iterator<Item = T>, count: usize) -> impl Iterator<Item = T> {
    ProgressBar::new(count as u64).wrap_iter(items.take(count))
}

fn write<T: Serialize>(items: impl Iterator<Item = T>) -> Result<(), Box<dyn std::error::Error>> {
    let mut out = std::io::BufWriter::new(std::io::stdout().lock());
    for item in items {
        serde_json::to_writer(&mut out, &item)?;
        out.write_all(b"\n")?;
    }
    out.flush()?;
    Ok(())
}
