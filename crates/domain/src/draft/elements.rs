//! Heating elements: how many can be open, and what steam then takes.

use crate::equipment::{Change, Effect, Extent, Fault, Heater, ObservationKey, Parameter, Target};

/// No more elements are open than the machine has; where its heater makes the steam, what is left makes it the
/// more slowly: `n/(n − k)` as often as long, or with what is lost `(P − P_l)/(P·(n − k)/n − P_l)`.
///
/// `dead` is how many times as long as usual one waits who waits in vain.
pub(super) fn fit(fault: &mut Fault, heater: &Heater, steam: Option<(&ObservationKey, f64)>) {
    let whole = f64::from(heater.elements);
    let is_of_elements = |effect: &Effect| effect.on == Target::Parameter(Parameter::OpenElements);
    let Some(open) =
        fault.effects.iter().find(|effect| is_of_elements(effect) && effect.severities.is_empty())
    else {
        return;
    };
    let Change::Add(open) = open.change.clone() else { return };
    let stands: Vec<bool> = open.iter().map(|extent| extent.to() <= whole).collect();
    fault.severities = kept(&fault.severities, &stands);
    for effect in fault.effects.iter_mut().filter(|effect| effect.severities.is_empty()) {
        effect.change = match &effect.change {
            Change::Scale(extents) => Change::Scale(kept(extents, &stands)),
            Change::Add(extents) => Change::Add(kept(extents, &stands)),
        };
    }
    let Some((time_to_steam, dead)) = steam else { return };
    let lost = heater.loss_w / heater.power_per_element_w;
    let slower = |extent: Extent| {
        let left = whole - extent.to();
        let slowest = if left > lost { (whole - lost) / (left - lost) } else { dead };
        let fastest = if left > 0.0 { whole / left } else { 0.9 * dead };
        Extent::Range(fastest.min(dead), slowest.min(dead))
    };
    fault.effects.push(Effect {
        on: Target::Measurement(time_to_steam.clone()),
        change: Change::Scale(kept(&open, &stands).into_iter().map(slower).collect()),
        severities: Vec::new(),
    });
}

fn kept<T: Clone>(of: &[T], stands: &[bool]) -> Vec<T> {
    of.iter().zip(stands).filter(|(_, stands)| **stands).map(|(of, _)| of.clone()).collect()
}
