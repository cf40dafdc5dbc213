use super::Danger;
use crate::word_list;

word_list! {
    /// Something that a caller, and whoever goes there, is told before anything else.
    pub enum Precaution {
        LabelIt = "label_it",
        LeaveTheGas = "leave_the_gas",
        LicensedForGas = "licensed_for_gas",
        KeepOffTheWet = "keep_off_the_wet",
        LeaveItTripped = "leave_it_tripped",
        KeepOffAndSwitchOffElsewhere = "keep_off_and_switch_off_elsewhere",
        LeaveItUnguarded = "leave_it_unguarded",
        KeepOffTheCaustic = "keep_off_the_caustic",
        NeverMix = "never_mix",
        RinseBeforeCooking = "rinse_before_cooking",
        IsolateAndVerify = "isolate_and_verify",
        QualifiedForLive = "qualified_for_live",
    }
}

impl Precaution {
    /// The rule that it follows, where there is one.
    pub const fn rule(self) -> Option<&'static str> {
        match self {
            Self::LeaveItUnguarded => Some("ISO 14119"),
            Self::KeepOffTheCaustic | Self::NeverMix => Some("29 CFR 1910.1200"),
            Self::IsolateAndVerify => Some("29 CFR 1910.147"),
            Self::QualifiedForLive => Some("29 CFR 1910.333(a)(1); EN 50110-1"),
            Self::LabelIt
            | Self::LeaveTheGas
            | Self::LicensedForGas
            | Self::KeepOffTheWet
            | Self::LeaveItTripped
            | Self::KeepOffAndSwitchOffElsewhere
            | Self::RinseBeforeCooking => None,
        }
    }
}

/// What to tell a caller, and whoever goes there, about these dangers: for each first what is for whoever stands beside the
/// machine. Advice only: local codes and licensed practice prevail.
pub fn precautions(dangers: &[Danger], stop_use: bool) -> Vec<Precaution> {
    use Precaution::{IsolateAndVerify, QualifiedForLive};
    let mut precautions: Vec<Precaution> = Vec::new();
    if stop_use {
        precautions.push(Precaution::LabelIt);
    }
    for danger in dangers {
        let of_danger: &[Precaution] = match danger {
            Danger::Gas => &[Precaution::LeaveTheGas, Precaution::LicensedForGas],
            Danger::Electric => &[Precaution::KeepOffTheWet, IsolateAndVerify, QualifiedForLive],
            Danger::Tripping => &[Precaution::LeaveItTripped, IsolateAndVerify, QualifiedForLive],
            Danger::Tingle => &[Precaution::KeepOffAndSwitchOffElsewhere, IsolateAndVerify, QualifiedForLive],
            Danger::DefeatedInterlock => &[Precaution::LeaveItUnguarded, IsolateAndVerify],
            Danger::Caustic => {
                &[Precaution::KeepOffTheCaustic, Precaution::NeverMix, Precaution::RinseBeforeCooking]
            }
        };
        for precaution in of_danger {
            if !precautions.contains(precaution) {
                precautions.push(*precaution);
            }
        }
    }
    precautions
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_danger_has_its_own_precautions() {
        assert!(precautions(&[], false).is_empty());
        for &danger in Danger::ALL {
            let one = precautions(&[danger], false);
            assert!(!one.is_empty(), "{danger}");
            assert_eq!(precautions(&[danger], true).len(), one.len() + 1);
        }
    }
}
