use crate::configuration::DatabaseArguments;
use crate::wiring::{Failure, database};

/// Compares the summary of confirmed faults with the findings, says what differed, and rebuilds it.
pub async fn run(arguments: &DatabaseArguments) -> Result<(), Failure> {
    let database = database(arguments).await?;
    let differences = store::fault_count::rebuild(&database).await?;
    match differences {
        0 => println!("the summary of faults agrees with the findings"),
        differences => {
            println!(
                "{differences} rows of the summary of faults differed from the findings and were mended"
            );
        }
    }
    Ok(())
}
