//! What an operator has mended.

use crate::{Application, Refusal};

/// Mends what contradicts other rows and follows from them, on nobody's behalf; returns how many rows.
pub async fn mend(application: &Application) -> Result<usize, Refusal> {
    let mut unit = application.begin_alone("mend").await?;
    let mended = store::check::mend(&mut unit).await?;
    unit.commit().await?;
    Ok(mended)
}
