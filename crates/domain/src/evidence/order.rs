use std::collections::{BTreeMap, BTreeSet};

use super::TestRun;
use crate::text::Text;
use crate::time::Timestamp;

/// The runs that still stand, in the order in which they were taken, however they arrived: without
/// those that others supersede, and without retractions.
///
/// The order is epoch, phase, time, device, the device's sequence. A device's own sequence is stronger
/// than its clock: a run counts as taken no earlier than any run of lower sequence of the same device.
pub fn current(runs: &[TestRun]) -> Vec<&TestRun> {
    let superseded: BTreeSet<_> = runs.iter().filter_map(|run| run.supersedes).collect();
    let mut by_device: BTreeMap<&Text<1, 100>, Vec<&TestRun>> = BTreeMap::new();
    for run in runs.iter().filter(|run| !superseded.contains(&run.id) && run.retraction_reason.is_none()) {
        by_device.entry(&run.device_id).or_default().push(run);
    }
    let mut timed: Vec<(Timestamp, &TestRun)> = Vec::with_capacity(runs.len());
    for mut of_device in by_device.into_values() {
        of_device.sort_by_key(|run| (run.sequence, run.taken_at, run.id));
        let mut latest = None;
        for run in of_device {
            let taken = latest.map_or(run.taken_at, |latest: Timestamp| latest.max(run.taken_at));
            latest = Some(taken);
            timed.push((taken, run));
        }
    }
    timed.sort_by(|(a_time, a), (b_time, b)| {
        let key = |time: Timestamp, run: &TestRun| (run.epoch, run.phase, time);
        key(*a_time, a)
            .cmp(&key(*b_time, b))
            .then_with(|| a.device_id.cmp(&b.device_id))
            .then_with(|| a.sequence.cmp(&b.sequence))
            .then_with(|| a.id.cmp(&b.id))
    });
    timed.dedup_by_key(|(_, run)| run.id);
    timed.into_iter().map(|(_, run)| run).collect()
}
