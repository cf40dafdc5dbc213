//! What takes seconds to compute is computed before somebody waits for it.

use std::time::Duration;

use store::appliance;

use crate::diagnosis::Numbers;
use crate::measures::{GetMeasures, USUAL_DAYS};
use crate::repeats::{Window, compared};
use crate::{Application, Refusal};

/// Whoever comes at once after a start comes first.
const AFTER_START: Duration = Duration::from_secs(5);
/// So often it is looked whether something else is in use now.
const AGAIN: Duration = Duration::from_mins(10);
/// The tables of so many versions of models are kept.
const MODELS: i64 = 6;

impl Application {
    /// Keeps warm what diagnoses compute with, the comparison of kitchens and the measures of the year. Never ends; what fails is tried again, and
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
        let now = self.now();
        let window = Window::of(None, None, now).map_err(|fault| Refusal::Internal(fault.to_string()))?;
        compared(self, window).await?;
        GetMeasures { window, as_of: now, days: USUAL_DAYS, by: None }.answer_lately(self).await?;
        Ok(())
    }
}
