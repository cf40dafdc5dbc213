//! How good the diagnosis is: the quality table on labelled cases of both tiers, with seeds and 95 %
//! intervals, reliability diagrams and the curve of accuracy against minutes.
//!
//!     scripts/evaluate                 10,000 cases of each tier; about an hour on two cores
//!     scripts/evaluate --cases 200     a first look

mod charts;
mod course;
mod drafted;
mod ideal;
mod judged;
mod labelled;
mod measures;
mod repair;
mod report;
mod tier;
mod workers;
mod world;

use std::path::PathBuf;

use clap::Parser;

#[derive(Parser)]
struct Arguments {
    /// Cases of each tier.
    #[arg(long, default_value_t = 10_000)]
    cases: usize,
    /// Cases of each tier that are tested step by step.
    #[arg(long, default_value_t = 2_000)]
    stepwise: usize,
    /// Cases of each tier whose whole call is followed to its proven repair.
    #[arg(long, default_value_t = 600)]
    repairs: usize,
    /// Cases of tier A that the ideal observer judges too.
    #[arg(long, default_value_t = 1_000)]
    ideal: usize,
    #[arg(long, default_value_t = 20_261_202)]
    seed: u64,
    #[arg(long, default_value_t = 2)]
    threads: usize,
    /// Model of the cases: demo_combi or demo_warewasher.
    #[arg(long, default_value = "demo_combi")]
    model: String,
    /// Loss of a missed fault, min, instead of the catalogue's.
    #[arg(long)]
    missed_fault_minutes: Option<f64>,
    /// One tier alone: a or b.
    #[arg(long)]
    tier: Option<tier::Tier>,
    /// Instead of all that: how much worse the models are diagnosed by drafts from their plates.
    #[arg(long)]
    drafted: bool,
    /// Folder for the report and its pictures; without it the report is printed alone.
    #[arg(long, overrides_with = "folder")]
    folder: Option<PathBuf>,
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let arguments = Arguments::parse();
    if arguments.drafted {
        let text = drafted::report(&arguments)?;
        print!("{text}");
        if let Some(folder) = &arguments.folder {
            std::fs::create_dir_all(folder)?;
            std::fs::write(folder.join("drafts.md"), text)?;
        }
        return Ok(());
    }
    let tiers = match arguments.tier {
        Some(tier) => vec![tier],
        None => vec![tier::Tier::A, tier::Tier::B],
    };
    let results: Result<Vec<_>, _> = tiers.into_iter().map(|tier| tier::evaluate(tier, &arguments)).collect();
    let results = results?;
    let text = report::text(&arguments, &results);
    print!("{text}");
    if let Some(folder) = &arguments.folder {
        std::fs::create_dir_all(folder)?;
        std::fs::write(folder.join("README.md"), text)?;
        charts::draw(folder, &results)?;
    }
    Ok(())
}
