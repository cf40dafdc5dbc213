use super::Danger;

/// A caution, and the rule that it follows.
type Caution = (&'static str, Option<&'static str>);

const ISOLATE: Caution =
    ("Isolate, lock, tag, release stored energy and verify before work.", Some("29 CFR 1910.147"));
const QUALIFIED: Caution = (
    "Live parts are de-energised unless infeasible; qualified persons only.",
    Some("29 CFR 1910.333(a)(1); EN 50110-1"),
);

/// What to tell a caller, and whoever goes there, about these dangers. Advice only: local codes and
/// licensed practice prevail. Each comes with the rule that it follows, where there is one.
pub fn cautions(dangers: &[Danger], stop_use: bool) -> Vec<Caution> {
    let mut cautions: Vec<Caution> = Vec::new();
    if stop_use {
        cautions.push(("Nobody uses the machine until somebody qualified has released it: label it.", None));
    }
    for danger in dangers {
        let of_danger: &[Caution] = match danger {
            Danger::Gas => &[
                ("Smell of gas: nobody switches anything; leave, ventilate, call the emergency line.", None),
                ("Gas is worked on by licensed persons only.", None),
            ],
            Danger::Electric => &[
                (
                    "Nobody touches the machine or wet floor near it; isolate it at the isolator, if that is dry.",
                    None,
                ),
                ISOLATE,
                QUALIFIED,
            ],
            Danger::Tripping => &[
                (
                    "Nobody switches a protection on again that has tripped: isolate the machine and leave it off.",
                    None,
                ),
                ISOLATE,
                QUALIFIED,
            ],
            Danger::Tingle => &[
                (
                    "Nobody touches the machine, nor what is joined to it; switch it off at the isolator or the board, \
                     not at the machine.",
                    None,
                ),
                ISOLATE,
                QUALIFIED,
            ],
            Danger::DefeatedInterlock => &[
                (
                    "Nobody runs the machine: it may wash with the door open. Isolate it; leave a magnet or bridge to \
                     whoever comes, who records its removal.",
                    Some("ISO 14119"),
                ),
                ISOLATE,
            ],
            Danger::Caustic => &[
                (
                    "Caustic water burns skin and eyes: keep people away, do not wipe it up without goggles and gloves.",
                    Some("29 CFR 1910.1200"),
                ),
                ("Never mix cleaning chemical with acid or chlorine.", Some("29 CFR 1910.1200")),
                ("Rinse and check the pH before the machine goes back to cooking.", None),
            ],
        };
        for caution in of_danger {
            if !cautions.contains(caution) {
                cautions.push(*caution);
            }
        }
    }
    cautions
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_danger_has_its_own_cautions() {
        assert!(cautions(&[], false).is_empty());
        for &danger in Danger::ALL {
            let one = cautions(&[danger], false);
            assert!(!one.is_empty(), "{danger}");
            assert_eq!(cautions(&[danger], true).len(), one.len() + 1);
        }
    }
}
