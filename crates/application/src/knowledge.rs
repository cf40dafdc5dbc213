//! One version of what was learned of healthy machines, ready to be asked.

use std::collections::{BTreeMap, HashMap};

use domain::equipment::Measurement;
use domain::grading::HealthyReference;
use domain::known_good::learned::LearnedMeasurement;
use store::knowledge;

/// A knowledge version.
#[derive(Debug)]
pub struct Knowledge {
    n: i64,
    of_models: HashMap<String, OfModel>,
}

/// What was learned of one model.
#[derive(Debug, Default)]
pub struct OfModel {
    pub learned: BTreeMap<Measurement, LearnedMeasurement>,
    /// The references that its fleet gives.
    pub fleet: BTreeMap<Measurement, HealthyReference>,
}

impl Knowledge {
    pub fn n(&self) -> i64 {
        self.n
    }

    pub fn of_model(&self, key: &str) -> Option<&OfModel> {
        self.of_models.get(key)
    }
}

impl From<knowledge::Knowledge> for Knowledge {
    fn from(stored: knowledge::Knowledge) -> Self {
        let mut of_models: HashMap<String, OfModel> = HashMap::new();
        for learned in stored.known_good {
            let of_model = of_models.entry(learned.model.to_string()).or_default();
            if let Some(reference) = learned.fleet() {
                of_model.fleet.insert(learned.of.clone(), reference);
            }
            of_model.learned.insert(learned.of.clone(), learned);
        }
        Self { n: stored.n, of_models }
    }
}
