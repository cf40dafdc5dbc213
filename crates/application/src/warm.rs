//! What takes seconds to compute is computed before somebody waits for it.

use std::time::Duration;

use store::appliance;

use crate::diagnosis::Numbers;
use crate::repeats::{Window, compared};
use crate::{Application, Refusal};

/// Whoever comes at once after a start comes first.
const AFTER_START: Duration = Duration::from_secs(5);
/// So often it is looked whether something else is in use now.
const AGAIN: Duration = Duration::from_mins(10);
/// The tables of so many versions of models are kept.
const MODELS: i64 = 6;

impl Application {
    /// Keeps warm what diagnoses and the comparison of kitchens compute with. Never ends; what fails is tried again, and
    /// waits for whoever asks.
    pub async fn keep_warm(self) {
        tokio::time::sleep(AFTER_START).await;
        loop {
            if let Err(refusal) = self.warm().await {
                tracing::debug!(%refusal, "not everything is warm");
            }
            tokio::time::sleep(AGAIN).await;
        }
    }

    async fn warm(&self) -> Result<(), Refusal> {
        for (model, version) in appliance::models_in_use(self.database(), MODELS).await? {
            // A model without a catalogue of faults has nothing to keep.
            match self.versions().known_faults(model.as_str(), version, Numbers::Newest).await {
                Ok(_) | Err(Refusal::Conflict { .. }) => {}
                Err(refusal) => return Err(refusal),
            }
        }
        let a_year = Window::of(None, None, self.now());
        compared(self, a_year.map_err(|fault| Refusal::Internal(fault.to_string()))?).await?;
        Ok(())
    }
}
