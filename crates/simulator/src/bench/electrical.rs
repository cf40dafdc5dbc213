use domain::evidence::{Censored, InstrumentKind};
use domain::vocabulary::Position;

use super::reading::{Scale, VOLTMETER, key};
use super::{Bench, Taken};
use crate::history::Code;

const AMBIENT_CEL: f64 = 22.0;
/// Below this a technician dries and repeats.
const INSULATION_LOW_MOHM: f64 = 2.0;
/// What the ohmmeter shows when there is nothing to measure.
const METER_END_OHM: f64 = 40_000_000.0;

impl Bench<'_> {
    pub(super) fn commanded_volts(&mut self, taken: &mut Taken) {
        let electrics = self.machine.electrics(self.severities, &self.surroundings, AMBIENT_CEL, self.random);
        let reference = self.machine.design.voltage_v;
        let supply = self.measure(taken, "supply", electrics.supply_v, VOLTMETER);
        let (fill, pump) = (electrics.volts_at_fill_valve, electrics.volts_at_wash_pump);
        let fill = self.measure(taken, "fill_valve_output", fill, VOLTMETER);
        let pump = self.measure(taken, "wash_motor_output", pump, VOLTMETER);
        self.seen.supply = Some(supply / reference);
        self.seen.fill_output = Some(fill / reference);
        self.seen.pump_output = Some(pump / reference);
    }

    /// Records a resistance and says whether it was open.
    fn resistance(&mut self, taken: &mut Taken, step: Code, ohm: f64) -> bool {
        let decimals = usize::from(ohm < 100.0);
        let meter =
            Scale { kind: InstrumentKind::Multimeter, unit: "Ohm", decimals, relative: 0.01, absolute: 0.1 };
        if ohm.is_finite() {
            self.measure(taken, step, ohm, meter);
            false
        } else {
            let open = Scale { unit: "MOhm", ..meter };
            let shown = METER_END_OHM / 1e6;
            Self::number(taken, step, shown, open, Some(Censored::AtLeast));
            true
        }
    }

    pub(super) fn dead_electrical(&mut self, taken: &mut Taken) {
        let electrics = self.machine.electrics(self.severities, &self.surroundings, AMBIENT_CEL, self.random);
        let design = self.machine.design.clone();
        taken.conditions.confirmed.insert(key("isolation_proven"));
        self.seen.coil_open = Some(self.resistance(taken, "fill_valve_coil", electrics.coil_ohm));
        self.seen.winding_open = Some(self.resistance(taken, "wash_motor_winding", electrics.winding_ohm));
        if design.has(Position::RunCapacitor) {
            let meter = Scale {
                kind: InstrumentKind::CapacitanceMeter,
                unit: "uF",
                decimals: 1,
                relative: 0.01,
                absolute: 0.05,
            };
            let read = self.measure(taken, "run_capacitor", electrics.capacitor_uf, meter);
            self.seen.capacitance = Some(read / design.capacitor_uf);
        }
        if design.has(Position::DrainPump) {
            let open = self.resistance(taken, "drain_pump_winding", electrics.drain_winding_ohm);
            self.seen.drain_winding_open = Some(open);
        }
        if design.has(Position::Heater) {
            self.seen.element_open = Some(self.resistance(taken, "heater_element", electrics.element_ohm));
        }
        let tester = Scale {
            kind: InstrumentKind::InsulationTester,
            unit: "MOhm",
            decimals: 2,
            relative: 0.05,
            absolute: 0.01,
        };
        let read = self.read(electrics.insulation_mohm, tester).max(0.01);
        Self::number(taken, "insulation", read, tester, None);
        self.seen.insulation_mohm = Some(read);
        self.seen.dried_mohm = None;
        // most who read low dry it and read again
        if read < INSULATION_LOW_MOHM && self.random.chance(0.8) {
            let dried = self.read(electrics.insulation_dried_mohm, tester).max(0.01);
            Self::number(taken, "insulation_dried", dried, tester, None);
            self.seen.dried_mohm = Some(dried);
        }
    }
}
