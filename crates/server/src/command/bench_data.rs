//! Fills an empty database with a large simulated company, round the use cases and by COPY, so that
//! reports and lists can be measured at the size of years.

mod fold;

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Instant;

use indicatif::{ProgressBar, ProgressStyle};
use simulator::company::{Company, Settings, Totals};
use store::Database;
use store::bulk::{self, Batch};
use tokio::sync::mpsc;

use crate::configuration::{BenchDataArguments, DatabaseArguments};
use crate::output::say;
use crate::wiring::{Failure, database_to_load};

/// Branches that are simulated side by side, and batches that may wait for the database.
const WORKERS: usize = 2;
const WAITING: usize = 2;

pub async fn run(
    database_arguments: &DatabaseArguments,
    arguments: &BenchDataArguments,
) -> Result<(), Failure> {
    let database = database_to_load(database_arguments).await?;
    if !database.is_empty().await? {
        return Err(Failure::Other(
            "the database holds customers already; give bench-data an empty, migrated one".to_owned(),
        ));
    }
    let begun = Instant::now();
    let benchmark = Settings::benchmark(arguments.seed);
    let kitchens = arguments.kitchens.unwrap_or(benchmark.kitchens);
    let bar = ProgressBar::new(0);
    let style = "{bar:40} {pos}/{len} branches, {elapsed} gone, {eta} to go; {msg}";
    bar.set_style(ProgressStyle::with_template(style).map_err(|error| Failure::Other(error.to_string()))?);
    load(&database, Settings { kitchens, ..benchmark }, |done, of, totals| {
        bar.set_length(of as u64);
        bar.set_position(done as u64);
        bar.set_message(format!("{} orders, {} readings", totals.orders, totals.readings));
    })
    .await?;
    bar.finish_and_clear();
    let held = bulk::settle(&database).await?;
    say(format_args!(
        "{} kitchens, {} appliances, {} orders, {} test runs, {} readings, {} findings, {} part lines in {:.0} s; \
         {:.2} GB on disk",
        held.sites,
        held.appliances,
        held.work_orders,
        held.test_runs,
        held.readings,
        held.findings,
        held.part_lines,
        begun.elapsed().as_secs_f64(),
        held.bytes as f64 / 1e9,
    ))?;
    database.close().await;
    Ok(())
}

/// Simulates branch after branch and stores each; `progress` is told the branches done, their number and
/// what was stored.
async fn load(
    database: &Database,
    settings: Settings,
    mut progress: impl FnMut(usize, usize, &Totals),
) -> Result<Totals, Failure> {
    let company = Arc::new(Company::new(settings).map_err(|error| Failure::Other(error.to_string()))?);
    let mut set_up = fold::Fold::default();
    for dated in company.set_up() {
        set_up.take(dated)?;
    }
    bulk::store(database, set_up.finish()).await?;

    let branches = company.settings().branches();
    let (sender, mut batches) = mpsc::channel::<Result<(Batch, Totals), Failure>>(WAITING);
    let next = Arc::new(AtomicUsize::new(0));
    for _ in 0..WORKERS {
        let (company, next, sender) = (company.clone(), next.clone(), sender.clone());
        tokio::task::spawn_blocking(move || {
            loop {
                let index = next.fetch_add(1, Ordering::Relaxed);
                // the other end is gone when a batch could not be stored
                if index >= branches || sender.blocking_send(live(&company, index)).is_err() {
                    return;
                }
            }
        });
    }
    drop(sender);
    let (mut totals, mut done) = (Totals::default(), 0);
    while let Some(batch) = batches.recv().await {
        let (batch, of_branch) = batch?;
        bulk::store(database, batch).await?;
        totals.add(&of_branch);
        done += 1;
        progress(done, branches, &totals);
    }
    Ok(totals)
}

/// One branch from its first day to its last, as rows.
fn live(company: &Company, index: usize) -> Result<(Batch, Totals), Failure> {
    let mut branch = company.branch(index);
    let (mut fold, mut totals) = (fold::Fold::default(), Totals::default());
    while let Some(entries) = branch.next_day() {
        branch.take_truths();
        for dated in entries {
            totals.count(&dated.entry);
            fold.take(dated)?;
        }
    }
    Ok((fold.finish(), totals))
}

#[cfg(test)]
mod tests;
