use application::catalogue::install_built_in;
use application::surroundings::{Clock, SystemClock};
use store::database::Migrated;

use crate::configuration::DatabaseArguments;
use crate::output::say;
use crate::wiring::{Failure, application, database};

/// Brings the schema and the built-in catalogue up to date, and says what it did. Safe to run again, and beside a
/// running service.
pub async fn run(arguments: &DatabaseArguments) -> Result<(), Failure> {
    let database = database(arguments).await?;
    let migrated = database.migrate(SystemClock.now().instant()).await?;
    say(done(&migrated))?;
    if !store::search::prepare(&database).await? {
        tracing::warn!(
            "the search of names reads whole tables: this Postgres has no extension pg_trgm, or its owner may not make it. It \
             comes with Postgres's contrib package; once it is there, call `ovenwright migrate` again"
        );
    }
    // A newer program's catalogue is not replaced by an older one's.
    if !migrated.is_newer_than_known() {
        let installed = install_built_in(&application(database.clone())).await?;
        for version in installed.left {
            tracing::warn!(version, "a built-in version is kept here with other content and stays as it is");
        }
    }
    database.close().await;
    Ok(())
}

fn done(migrated: &Migrated) -> String {
    let Migrated { before, known, applied } = migrated;
    match before {
        Some(before) if migrated.is_newer_than_known() => format!(
            "the schema is at {before}, newer than this program's {known}: left as it is; `serve` works on it, and only the \
             newer program changes it"
        ),
        Some(_) if applied.is_empty() => format!("the schema is at {known}, up to date"),
        Some(before) => {
            format!("the schema went from {before} to {known}: {}", applied.join(", "))
        }
        None => format!("the schema was made, up to {known}: {}", applied.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_done_is_told() {
        let migrated = |before, applied: &[&str]| Migrated {
            before,
            known: 12,
            applied: applied.iter().map(ToString::to_string).collect(),
        };
        assert_eq!(done(&migrated(Some(12), &[])), "the schema is at 12, up to date");
        assert_eq!(done(&migrated(Some(11), &["0012 lives"])), "the schema went from 11 to 12: 0012 lives");
        assert!(
            done(&migrated(None, &["0001 foundations"])).contains("was made, up to 12: 0001 foundations")
        );
        assert!(done(&migrated(Some(13), &[])).contains("newer than this program's 12"));
    }
}
