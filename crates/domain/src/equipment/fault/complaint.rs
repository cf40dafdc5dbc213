//! What callers say of a fault, and how often they say something else.

use std::collections::BTreeMap;

use super::{Fault, FaultCatalogue};
use crate::vocabulary::Symptom;

/// η: share of calls whose complaint is misnamed, by who calls or by who writes it down. It then is any of
/// the complaints that are made at all. **Judgement**: one in ten.
pub const MISNAMED: f64 = 0.1;
/// Share of misnamed complaints that are of any kind whatever, so that none, however new, is impossible.
const OF_ANY_KIND: f64 = 0.02;

impl Fault {
    /// q(s), with the complaints that the catalogue does not list under `other`.
    pub fn symptom_share(&self, symptom: Symptom) -> f64 {
        share_of(&self.symptoms, symptom)
    }
}

impl FaultCatalogue {
    /// κ₀·q₀(s), or κ₀ if nobody complained.
    pub fn background(&self, complaint: Option<Symptom>) -> f64 {
        let share = complaint.map_or(1.0, |symptom| share_of(&self.calls_without_fault.symptoms, symptom));
        self.calls_without_fault.per_year * share
    }

    /// q̄(s): share of all calls, whatever makes them, with this complaint. The shares of all complaints sum
    /// to 1, and none is 0.
    pub fn usual_share(&self, symptom: Symptom) -> f64 {
        let rate = |fault: &Fault| fault.odds() * fault.calls_while_standing();
        let of_faults: f64 = self.faults.iter().map(|fault| rate(fault) * fault.symptom_share(symptom)).sum();
        let (of_symptom, all) = (self.background(Some(symptom)) + of_faults, self.calls_per_year());
        let share = if all > 0.0 { of_symptom / all } else { 0.0 };
        let even = 1.0 / Symptom::ALL.len() as f64;
        let of_any_kind = if all > 0.0 { OF_ANY_KIND } else { 1.0 };
        (1.0 - of_any_kind) * share + of_any_kind * even
    }
}

/// `q'(s) = (1 − η)·q(s) + η·q̄(s)`: the share of calls that are put down with a complaint, from the share
/// that are made for it and the usual share of that complaint.
pub fn as_named(share: f64, usual: f64) -> f64 {
    (1.0 - MISNAMED) * share + MISNAMED * usual
}

fn share_of(shares: &BTreeMap<Symptom, f64>, symptom: Symptom) -> f64 {
    let named = shares.get(&symptom).copied().unwrap_or(0.0);
    let rest = if symptom == Symptom::Other { (1.0 - shares.values().sum::<f64>()).max(0.0) } else { 0.0 };
    named + rest
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::equipment::built_in_fault_catalogues;

    #[test]
    fn complaints_as_named_sum_to_all_calls_and_none_is_impossible() {
        for catalogue in built_in_fault_catalogues() {
            let sum = |share: &dyn Fn(Symptom) -> f64| {
                Symptom::ALL.iter().map(|symptom| share(*symptom)).sum::<f64>()
            };
            assert!((sum(&|symptom| catalogue.usual_share(symptom)) - 1.0).abs() < 1e-12);
            for fault in &catalogue.faults {
                let named = |symptom| as_named(fault.symptom_share(symptom), catalogue.usual_share(symptom));
                assert!((sum(&named) - 1.0).abs() < 1e-9, "{}", fault.key);
                assert!(Symptom::ALL.iter().all(|symptom| named(*symptom) > 0.0), "{}", fault.key);
            }
        }
    }

    #[test]
    fn a_catalogue_without_calls_takes_every_complaint_alike() {
        let mut catalogue = built_in_fault_catalogues()[0].clone();
        catalogue.calls_without_fault.per_year = 0.0;
        catalogue.faults.clear();
        let even = 1.0 / Symptom::ALL.len() as f64;
        assert!(Symptom::ALL.iter().all(|of| (catalogue.usual_share(*of) - even).abs() < 1e-15));
    }
}
