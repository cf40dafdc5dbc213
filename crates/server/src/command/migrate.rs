use application::surroundings::{Clock, SystemClock};

use crate::configuration::DatabaseArguments;
use crate::wiring::{Failure, database};

/// Brings the schema up to date. Safe to run again, and beside a running service.
pub async fn run(arguments: &DatabaseArguments) -> Result<(), Failure> {
    let database = database(arguments).await?;
    database.migrate(SystemClock.now().instant()).await?;
    database.close().await;
    Ok(())
}
