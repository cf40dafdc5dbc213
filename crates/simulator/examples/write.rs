//! Writes a company's history as JSON lines, in the order of time, to standard output.
//!
//!     cargo run --release --example write -p simulator -- --kitchens 40 --days 731 > history.jsonl

use std::io::Write as _;

use clap::Parser;
use indicatif::ProgressBar;
use simulator::company::{Company, Settings};

#[derive(Parser)]
struct Arguments {
    #[arg(long, default_value_t = 1)]
    seed: u64,
    #[arg(long, default_value_t = 40)]
    kitchens: usize,
    #[arg(long, default_value_t = 731)]
    days: u32,
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let arguments = Arguments::parse();
    let settings =
        Settings { kitchens: arguments.kitchens, days: arguments.days, ..Settings::demo(arguments.seed) };
    let company = Company::new(settings)?;
    let bar = ProgressBar::new(u64::from(arguments.days));
    let mut out = std::io::BufWriter::new(std::io::stdout().lock());
    for dated in company.history(|days| bar.set_position(days)) {
        serde_json::to_writer(&mut out, &dated)?;
        out.write_all(b"\n")?;
    }
    out.flush()?;
    bar.finish_and_clear();
    Ok(())
}
