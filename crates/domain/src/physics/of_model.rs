//! From a model's data to the physics: what the catalogue knows in plain numbers becomes checked
//! quantities.

use super::PhysicsError;
use super::choking::TYPICAL_STYLE_MODIFIER;
use super::fill::{FillLine, FillValve, FlowRegulator};
use super::heating::Heater;
use super::liquid::Water;
use super::pump::{Pump, SpraySystem};
use super::sump::Sump;
use crate::equipment;
use crate::quantity::{
    AbsolutePressure, Duration, FlowCoefficient, Length, Power, PressureDifference, StaticPressure,
    Temperature, Voltage, Volume, VolumeFlow,
};

impl TryFrom<&equipment::FillCircuit> for FillLine {
    type Error = PhysicsError;

    fn try_from(circuit: &equipment::FillCircuit) -> Result<Self, PhysicsError> {
        let kv = FlowCoefficient::from_cubic_metres_per_hour;
        let regulator = circuit.regulator.map(|regulator| -> Result<_, PhysicsError> {
            Ok(FlowRegulator {
                flow: VolumeFlow::from_litres_per_minute(regulator.flow_l_per_min)?,
                minimum_drop: PressureDifference::from_bar(regulator.minimum_pressure_bar)?,
            })
        });
        Ok(Self {
            line: kv(circuit.line_kv_m3_per_h)?,
            inlet_strainer: circuit.inlet_strainer_kv_m3_per_h.map(kv).transpose()?,
            valve_strainer: circuit.valve_strainer_kv_m3_per_h.map(kv).transpose()?,
            flow_restrictor: circuit.restrictor_kv_m3_per_h.map(kv).transpose()?,
            flow_regulator: regulator.transpose()?,
            fill_valve: FillValve {
                flow_coefficient: kv(circuit.fill_valve_kv_m3_per_h)?,
                pressure_recovery: circuit.fill_valve_pressure_recovery,
                style_modifier: TYPICAL_STYLE_MODIFIER,
            },
        })
    }
}

impl super::fill::Supply {
    /// The model's reference: its static pressure and water temperature, at sea level.
    pub fn at_reference(reference: &equipment::ReferenceConditions) -> Result<Self, PhysicsError> {
        Ok(Self {
            static_pressure: StaticPressure::from_bar(reference.static_pressure_bar)?,
            atmosphere: AbsolutePressure::STANDARD_ATMOSPHERE,
            water: Water::at(Temperature::from_celsius(reference.water_temperature_cel)?)?,
        })
    }
}

impl TryFrom<&equipment::Sump> for Sump {
    type Error = PhysicsError;

    fn try_from(sump: &equipment::Sump) -> Result<Self, PhysicsError> {
        Ok(Self {
            starving: Volume::from_litres(sump.starving_l)?,
            dry: Volume::from_litres(sump.dry_l)?,
            return_delay: Duration::from_seconds(sump.return_delay_s)?,
        })
    }
}

impl TryFrom<&equipment::WashPump> for Pump {
    type Error = PhysicsError;

    fn try_from(pump: &equipment::WashPump) -> Result<Self, PhysicsError> {
        Ok(Self {
            shut_off_head: Length::from_metres(pump.shut_off_head_m)?,
            internal_resistance: pump.curve_m_per_l_per_s_squared,
        })
    }
}

impl TryFrom<&equipment::WashPump> for SpraySystem {
    type Error = PhysicsError;

    fn try_from(pump: &equipment::WashPump) -> Result<Self, PhysicsError> {
        Ok(Self {
            static_head: Length::from_metres(pump.system_static_head_m)?,
            resistance: pump.system_curve_m_per_l_per_s_squared,
        })
    }
}

impl TryFrom<&equipment::Heater> for Heater {
    type Error = PhysicsError;

    fn try_from(heater: &equipment::Heater) -> Result<Self, PhysicsError> {
        let kilojoules_per_kelvin = heater.metal_kg * heater.metal_heat_capacity_kj_per_kg_k
            + heater.water_kg * heater.water_heat_capacity_kj_per_kg_k;
        Ok(Self {
            elements: heater.elements,
            wiring: heater.wiring,
            rated_power: Power::from_watts(f64::from(heater.elements) * heater.power_per_element_w)?,
            rated_voltage: Voltage::from_volts(heater.rated_voltage_v)?,
            loss: Power::from_watts(heater.loss_w)?,
            heat_capacity: kilojoules_per_kelvin * 1000.0,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::fill::{FlowRegime, Supply};
    use crate::physics::heating::HeaterState;
    use crate::physics::pump::operating_flow;

    #[test]
    fn the_built_in_models_give_their_own_typical_values() {
        let model = equipment::demo_combi();
        let line = FillLine::try_from(&model.fill.unwrap()).unwrap();
        let flow = line.flow(&Supply::at_reference(&model.reference).unwrap()).unwrap();
        assert_eq!(flow.regime, FlowRegime::Turbulent);
        assert!((flow.flow.litres_per_minute() - 13.693).abs() < 0.001);
        assert!((flow.dynamic_pressure.bar() - model.reference.dynamic_pressure_bar).abs() < 0.001);

        let wash = model.wash_pump.unwrap();
        let (pump, system) = (Pump::try_from(&wash).unwrap(), SpraySystem::try_from(&wash).unwrap());
        assert!((operating_flow(&pump, &system, 1.0).unwrap().litres_per_minute() - 30.0).abs() < 1e-9);
        let sump = Sump::try_from(&model.sump.unwrap()).unwrap();
        assert!(
            (sump.volume_for_full_flow(operating_flow(&pump, &system, 1.0).unwrap()).unwrap().litres()
                - 2.25)
                .abs()
                < 1e-9
        );

        let heater = Heater::try_from(&model.heater.unwrap()).unwrap();
        let celsius = |value| Temperature::from_celsius(value).unwrap();
        let time =
            heater.time(celsius(15.0), celsius(92.0), heater.rated_voltage, HeaterState::Whole).unwrap();
        assert!((time.seconds() - 271.5).abs() < 0.1);
    }

    #[test]
    fn the_typical_times_to_the_stages_are_those_of_the_physics() {
        let model = equipment::demo_combi();
        let heater = Heater::try_from(&model.heater.unwrap()).unwrap();
        let water = Temperature::from_celsius(model.reference.water_temperature_cel).unwrap();
        for stage in equipment::WashStage::ALL {
            let hot = Temperature::from_celsius(model.stage_cel(stage).unwrap()).unwrap();
            let time = heater.time(water, hot, heater.rated_voltage, HeaterState::Whole).unwrap();
            let step = format!("time_to_{}_stage", stage.word());
            let key = |text: &str| crate::text::Key::new(text).unwrap();
            let (procedure, read) = (key("staged_heating"), key(&step));
            let of = equipment::Measurement { procedure, step: read, statistic: None };
            let typical = model.typical_value(&of).unwrap();
            assert!((time.seconds() - typical.value).abs() < 0.1, "{step}: {}", time.seconds());
            // One element open takes half as long again, and the limit tells the two apart.
            let limit = model.functional_limit(&of).unwrap().upper.unwrap();
            let open = heater.time(water, hot, heater.rated_voltage, HeaterState::ElementOpen).unwrap();
            assert!(typical.upper.unwrap() < limit && limit < open.seconds(), "{step}");
        }
    }

    #[test]
    fn every_built_in_model_can_be_computed() {
        for model in equipment::built_in_models() {
            let supply = Supply::at_reference(&model.reference).unwrap();
            if let Some(fill) = &model.fill {
                let flow = FillLine::try_from(fill).unwrap().flow(&supply).unwrap();
                assert!(flow.flow.litres_per_minute() > 0.0, "{}", model.key);
                assert!((flow.dynamic_pressure.bar() - model.reference.dynamic_pressure_bar).abs() < 0.01);
            }
            if let Some(sump) = &model.sump {
                assert!(Sump::try_from(sump).is_ok());
            }
            if let Some(heater) = &model.heater {
                let heater = Heater::try_from(heater).unwrap();
                assert!(heater.power(heater.rated_voltage, HeaterState::Whole).unwrap() > heater.loss);
            }
        }
    }
}
