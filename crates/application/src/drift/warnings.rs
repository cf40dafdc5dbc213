//! Which machine is on its way to failing?

use std::collections::BTreeMap;

use domain::equipment::FaultCatalogue;
use domain::known_good::drift::DriftRules;
use domain::text::{Key, Name};
use domain::time::Timestamp;
use domain::vocabulary::Position;
use store::drift_watch::{self, Drifting, Warned};
use store::fault_catalogue;

use crate::{Application, Caller, Question, Refusal};

/// The fleet's machines whose own readings drift.
#[derive(Debug, Clone, Copy)]
pub struct GetEarlyWarnings;

#[derive(Debug)]
pub struct EarlyWarnings {
    pub as_of: Timestamp,
    /// The latest alarm first.
    pub warnings: Vec<Warning>,
    /// Machines whose readings were looked at in the last half year.
    pub machines: i64,
    pub rules: DriftRules,
    /// Warnings whose position was mended since.
    pub mended: usize,
    /// Whether there are more machines than are told.
    pub is_cut: bool,
}

#[derive(Debug)]
pub struct Warning {
    pub machine: Warned,
    pub drift: Drifting,
    /// What is wrong most often where it drifts, by the newest catalogue of the model.
    pub often: Option<Name>,
    /// How long reading it takes.
    pub minutes: Option<f64>,
}

/// Where nothing changes, one reading in so many rings the average or the sums, at least: the two ring together more often than
/// apart. Of each by itself [`DriftRules::default`] tells.
pub const READINGS_TO_A_FALSE_ALARM: f64 = 1.0 / (1.0 / 12_900.0 + 1.0 / 9_500.0);
/// Machines that are told; more nobody looks at in a week.
pub const MOST_MACHINES: usize = 500;

impl Question for GetEarlyWarnings {
    const NAME: &'static str = "get_early_warnings";
    type Answer = EarlyWarnings;

    async fn answer(self, application: &Application, _: &Caller) -> Result<EarlyWarnings, Refusal> {
        let database = application.database();
        let mut warned = drift_watch::warned(database, MOST_MACHINES.cast_signed() as i64 + 1).await?;
        let is_cut = warned.len() > MOST_MACHINES;
        warned.truncate(MOST_MACHINES);
        let since = warned.iter().flat_map(|machine| &machine.drifts).map(|drift| drift.since).min();
        let ids: Vec<_> = warned.iter().map(|machine| machine.appliance).collect();
        let changed = match since {
            Some(since) => drift_watch::changed_since(database, &ids, since).await?,
            None => Vec::new(),
        };
        let mut often = BTreeMap::new();
        let mut minutes = BTreeMap::new();
        if !warned.is_empty() {
            for kept in fault_catalogue::newest(database, None).await? {
                often.extend(most_often(&kept.entry));
            }
            for procedure in application.versions().all_procedures().await? {
                minutes.insert(procedure.key.clone(), procedure.minutes);
            }
        }
        let (mut warnings, mut mended) = (Vec::new(), 0);
        for mut machine in warned {
            for drift in std::mem::take(&mut machine.drifts) {
                let is_mended = changed.iter().any(|(appliance, position, at)| {
                    *appliance == machine.appliance
                        && *position == drift.position
                        && *at > drift.last_at.instant()
                });
                if is_mended {
                    mended += 1;
                    continue;
                }
                warnings.push(Warning {
                    often: often.get(&(machine.model.clone(), drift.position)).cloned(),
                    minutes: minutes.get(&drift.of.procedure).copied(),
                    machine: machine.clone(),
                    drift,
                });
            }
        }
        warnings.sort_by_key(|warning| std::cmp::Reverse(warning.drift.since));
        Ok(EarlyWarnings {
            as_of: application.now(),
            warnings,
            machines: drift_watch::looked_at(database).await?,
            rules: DriftRules::default(),
            mended,
            is_cut,
        })
    }
}

/// Of each position, the fault that arises most often.
fn most_often(catalogue: &FaultCatalogue) -> BTreeMap<(Key, Position), Name> {
    let mut faults: Vec<_> = catalogue.faults.iter().collect();
    faults.sort_by(|one, other| one.per_year.total_cmp(&other.per_year));
    // The last of a position stands.
    faults.into_iter().map(|fault| ((catalogue.model.clone(), fault.position), fault.title.clone())).collect()
}
