//! Readings that cannot all be right, whatever is wrong with the machine.

use std::collections::BTreeMap;

use super::case::{Case, Observed};
use super::evidence;
use super::tables::Tables;
use crate::equipment::{MeasurementModel, ObservationKey, Reads};

/// Flow that is called "none" cannot have held for longer, s.
const HELD: f64 = 5.0;
/// How much more pressure a gauge may show in flow than at rest: two readings of a good gauge.
const GAUGE: f64 = 1.05;

/// A time to a stage, as it was read.
type Stage<'a> = (&'a MeasurementModel, &'a Observed);

/// By the rules of nature, the last reading of each thing:
/// - more pressure in flow than at rest at one tap,
/// - a hotter stage of one heating reached before a cooler one,
/// - no flow at the start, and yet flow that held for seconds.
pub(super) fn of_nature(tables: &Tables, case: &Case) -> Vec<Vec<ObservationKey>> {
    let mut last: BTreeMap<&ObservationKey, &Observed> = BTreeMap::new();
    last.extend(case.observations.iter().map(|seen| (&seen.key, &seen.seen)));
    let catalogue = tables.catalogue();
    let read = |is_meant: &dyn Fn(&Reads) -> bool| {
        let meant = catalogue.measurements.iter().filter(|of| is_meant(&of.reads));
        meant.filter_map(|of| Some((of, *last.get(&of.key)?))).collect::<Vec<_>>()
    };
    let mut found = Vec::new();
    for (rest, at_rest) in read(&|reads| *reads == Reads::StaticPressure) {
        for (flow, in_flow) in read(&|reads| *reads == Reads::DynamicPressure) {
            if least(in_flow).zip(most(at_rest)).is_some_and(|(flow, rest)| flow > GAUGE * rest) {
                found.push(vec![rest.key.clone(), flow.key.clone()]);
            }
        }
    }
    let stages = read(&|reads| matches!(reads, Reads::HeatingTime { .. }));
    let stage =
        |reads: &Reads| if let Reads::HeatingTime { stage, .. } = reads { Some(*stage) } else { None };
    let is_earlier = |(cool, late): &Stage, (hot, early): &Stage| {
        cool.key.procedure() == hot.key.procedure()
            && stage(&hot.reads) > stage(&cool.reads)
            && least(late).zip(most(early)).is_some_and(|(late, early)| early < late)
    };
    let wrong =
        |stage: &&Stage| stages.iter().any(|other| is_earlier(stage, other) || is_earlier(other, stage));
    let wrong: Vec<ObservationKey> = stages.iter().filter(wrong).map(|(of, _)| of.key.clone()).collect();
    found.extend((!wrong.is_empty()).then_some(wrong));
    for (strength, flow) in read(&|reads| *reads == Reads::FirstFlow) {
        let none = strength.judged.iter().min_by(|a, b| a.1.1.total_cmp(&b.1.1)).map(|(choice, _)| choice);
        let is_none = matches!(flow, Observed::Choice(choice) if Some(choice) == none);
        for (hold, time) in read(&|reads| *reads == Reads::FirstFall) {
            if is_none && least(time).is_some_and(|time| time > HELD) {
                found.push(vec![strength.key.clone(), hold.key.clone()]);
            }
        }
    }
    found
}

/// Values read of one thing of which one at least is wrong.
pub(super) fn of_repeats(tables: &Tables, case: &Case) -> Vec<Vec<ObservationKey>> {
    let repeats = evidence::take(tables, case).repeats;
    repeats.into_iter().filter(|repeat| repeat.disagree).map(|repeat| vec![repeat.key]).collect()
}

/// What was read is at least this.
fn least(seen: &Observed) -> Option<f64> {
    match seen {
        Observed::Value(number) | Observed::AtLeast(number) => Some(number.value),
        Observed::AtMost(_) | Observed::Choice(_) => None,
    }
}

/// What was read is at most this.
fn most(seen: &Observed) -> Option<f64> {
    match seen {
        Observed::Value(number) | Observed::AtMost(number) => Some(number.value),
        Observed::AtLeast(_) | Observed::Choice(_) => None,
    }
}
