use std::sync::LazyLock;

use super::Procedure;

/// The procedures that every company has from the start.
pub fn built_in_procedures() -> &'static [Procedure] {
    &BUILT_IN
}

static BUILT_IN: LazyLock<Vec<Procedure>> = LazyLock::new(|| FILES.iter().map(|json| read(json)).collect());

const FILES: [&str; 21] = [
    include_str!("../../data/procedures/inlet_pressure.json"),
    include_str!("../../data/procedures/strainer_look.json"),
    include_str!("../../data/procedures/fill_time.json"),
    include_str!("../../data/procedures/start_up_catch.json"),
    include_str!("../../data/procedures/valve_shuts_tight.json"),
    include_str!("../../data/procedures/sump_holds.json"),
    include_str!("../../data/procedures/wash_flow_hold.json"),
    include_str!("../../data/procedures/drain_time.json"),
    include_str!("../../data/procedures/door_switch.json"),
    include_str!("../../data/procedures/seal_and_buffer_look.json"),
    include_str!("../../data/procedures/steam.json"),
    include_str!("../../data/procedures/staged_heating.json"),
    include_str!("../../data/procedures/probe_check.json"),
    include_str!("../../data/procedures/rinse_clear.json"),
    include_str!("../../data/procedures/chemical_delivery.json"),
    include_str!("../../data/procedures/dead_electrical.json"),
    include_str!("../../data/procedures/commanded_volts.json"),
    include_str!("../../data/procedures/water_quality.json"),
    include_str!("../../data/procedures/full_cycle.json"),
    include_str!("../../data/procedures/wiring_look.json"),
    include_str!("../../data/procedures/use_review.json"),
];

#[expect(clippy::expect_used, reason = "the file is compiled in, and a test reads each of them")]
fn read(json: &str) -> Procedure {
    serde_json::from_str(json).expect("a built-in procedure is well-formed")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::equipment::{Measurement, built_in_models};
    use crate::procedure::{Precondition, Reads};
    use std::collections::BTreeSet;

    #[test]
    fn built_in_procedures_hold_their_own_rules() {
        let mut keys = BTreeSet::new();
        for procedure in built_in_procedures() {
            assert_eq!(procedure.validate(), Ok(()), "{}", procedure.key);
            assert!(keys.insert(&procedure.key), "{}", procedure.key);
        }
    }

    #[test]
    fn preconditions_name_procedures_and_steps_that_exist() {
        let find =
            |key: &crate::text::Key| built_in_procedures().iter().find(|procedure| procedure.key == *key);
        for procedure in built_in_procedures() {
            for precondition in &procedure.preconditions {
                match precondition {
                    Precondition::Read { procedure: other, step, .. } => {
                        assert!(find(other).unwrap().step(step).is_some(), "{}", procedure.key);
                    }
                    Precondition::Passed { procedure: other, step, .. } => {
                        let other = find(other).unwrap();
                        assert!(
                            step.as_ref().is_none_or(|step| other.step(step).is_some()),
                            "{}",
                            procedure.key
                        );
                    }
                    Precondition::Confirmed { .. } => {}
                }
            }
        }
    }

    #[test]
    fn limits_and_typical_values_of_the_models_speak_of_steps_that_exist() {
        for model in built_in_models() {
            let of_water = model.water_limits.functional_limits();
            let limits =
                model.functional_limits.iter().chain(&of_water).map(|limit| (&limit.of, limit.quantity));
            let typical = model.typical_values.iter().map(|typical| (&typical.of, typical.quantity));
            for (of, quantity) in limits.chain(typical) {
                let Measurement { procedure, step, statistic } = of;
                let found = built_in_procedures().iter().find(|candidate| candidate.key == *procedure);
                let step =
                    found.and_then(|procedure| procedure.step(step)).unwrap_or_else(|| panic!("{of:?}"));
                match (&step.reads, statistic) {
                    (Reads::Measure { quantity: read, .. }, None) => assert_eq!(*read, quantity, "{of:?}"),
                    (Reads::Record { quantity: read, .. }, Some(statistic)) => {
                        assert_eq!(statistic.quantity(*read), quantity, "{of:?}");
                    }
                    _ => panic!("{of:?}"),
                }
            }
        }
    }

    #[test]
    fn a_step_that_defeats_an_interlock_has_its_caution() {
        let defeating: Vec<_> = built_in_procedures()
            .iter()
            .filter(|procedure| procedure.defeating_steps().next().is_some())
            .collect();
        assert!(!defeating.is_empty());
        for procedure in defeating {
            let names_it = |name: &str| name.contains("14119");
            let cautioned = procedure.cautions.iter().filter_map(|caution| caution.regulation.as_ref());
            assert!(cautioned.into_iter().any(|name| names_it(name.as_str())), "{}", procedure.key);
        }
    }
}
