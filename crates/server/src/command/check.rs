use indicatif::ProgressBar;

use crate::configuration::{CheckArguments, DatabaseArguments};
use crate::output::say;
use crate::wiring::{Failure, application, migrated_database};

/// Holds the whole database against the rules between its rows, says what breaks one, and mends the
/// summary of confirmed faults, which follows from the findings.
pub async fn run(arguments: &DatabaseArguments, check: CheckArguments) -> Result<(), Failure> {
    let database = migrated_database(arguments).await?;
    if check.mend {
        let mended = application::mend::mend(&application(database.clone())).await?;
        say(format_args!("{mended} rows that contradicted others were mended"))?;
    }
    let bar = ProgressBar::new_spinner();
    bar.enable_steady_tick(std::time::Duration::from_millis(120));
    bar.set_message("every row can be read");
    let unreadable = store::check::unreadable(&database).await?;
    let checked = store::check::all(&database, &mut |rule| bar.set_message(rule)).await?;
    bar.set_message("the summary of faults agrees with the findings");
    let differences = store::fault_count::rebuild(&database).await?;
    bar.finish_and_clear();
    match differences {
        0 => say("the summary of faults agrees with the findings")?,
        differences => say(format_args!(
            "{differences} rows of the summary of faults differed from the findings and were mended"
        ))?,
    }
    database.close().await;
    let broken: Vec<_> = checked.iter().filter(|checked| checked.broken > 0).collect();
    for checked in &broken {
        let example = checked.example.as_deref().unwrap_or_default();
        say(format_args!(
            "BROKEN: {}: {} rows do not hold it, such as {example}",
            checked.rule, checked.broken
        ))?;
        say(format_args!("  {}", checked.way_out))?;
    }
    for row in &unreadable {
        say(format_args!("UNREADABLE, and left out of every answer: {row}"))?;
    }
    let holding = checked.len() - broken.len();
    say(format_args!("{holding} of {} rules between rows hold", checked.len()))?;
    if broken.is_empty() && unreadable.is_empty() {
        return Ok(());
    }
    Err(Failure::Other(
        "rows contradict each other or cannot be read; under each rule stands what makes it hold again"
            .to_owned(),
    ))
}
