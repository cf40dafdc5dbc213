//! A machine at a glance, position by position.

use std::collections::BTreeMap;

use domain::id::ApplianceId;
use domain::text::Key;
use store::fitted_part::{self, FittedPart};
use store::position_summary::{self, PositionSummary};

use super::read::require_shown;
use crate::{Application, Caller, Question, Refusal};

/// Every position of a machine's model, and others of which something is known.
#[derive(Debug, Clone, Copy)]
pub struct ListAppliancePositions(pub ApplianceId);

/// What is known of one position.
#[derive(Debug)]
pub struct KnownPosition {
    pub position: Key,
    /// The part that is in it, as far as it was noted.
    pub fitted_part: Option<FittedPart>,
    pub summary: PositionSummary,
}

impl Question for ListAppliancePositions {
    const NAME: &'static str = "list_appliance_positions";
    type Answer = Vec<KnownPosition>;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<Vec<KnownPosition>, Refusal> {
        let appliance = require_shown(application, caller, self.0).await?;
        let database = application.database();
        let mut summaries = position_summary::of_appliance(database, self.0).await?;
        let model = application.versions().model(appliance.model.as_str(), appliance.model_version).await?;
        for position in model.iter().flat_map(|model| &model.positions) {
            if let Ok(key) = Key::new(position.key()) {
                summaries.entry(key).or_default();
            }
        }
        let mut fitted = BTreeMap::new();
        for part in fitted_part::of_appliance(database, self.0).await? {
            if part.removed_at.is_none() {
                summaries.entry(part.position.clone()).or_default();
                fitted.insert(part.position.clone(), part);
            }
        }
        let positions = summaries.into_iter().map(|(position, summary)| {
            let fitted_part = fitted.remove(&position);
            KnownPosition { position, fitted_part, summary }
        });
        Ok(positions.collect())
    }
}
