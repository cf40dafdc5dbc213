use application::catalogue::install_built_in;
use application::surroundings::{Clock, SystemClock};

use crate::configuration::DatabaseArguments;
use crate::wiring::{Failure, application, database};

/// Brings the schema and the built-in catalogue up to date. Safe to run again, and beside a running service.
pub async fn run(arguments: &DatabaseArguments) -> Result<(), Failure> {
    let database = database(arguments).await?;
    database.migrate(SystemClock.now().instant()).await?;
    let installed = install_built_in(&application(database.clone())).await?;
    for version in installed.left {
        tracing::warn!(version, "a built-in version is kept here with other content and stays as it is");
    }
    database.close().await;
    Ok(())
}
