//! Topics 1 and 2: flow through restrictions, pumps and tanks.

use crate::record::Record;
use crate::{check, unknown};
use domain::physics::Observed;
use domain::physics::choking::{choked_drop, critical_pressure_ratio_factor};
use domain::physics::drain::GravityOutlet;
use domain::physics::fill::{Clock, fill_time};
use domain::physics::pump::{Duty, at_speed_ratio};
use domain::physics::{if97, restriction};
use domain::quantity::{
    AbsolutePressure, FlowCoefficient, Length, Power, PressureDifference, Temperature, Volume, VolumeFlow,
};

#[test]
fn flow_through_restrictions() {
    check(include_str!("../../../../tests/reference/flow.json"), |record| match record.quantity() {
        "volume flow through a valve of given Kv" => {
            let density = record.input("rho_kg_m3") / 1000.0;
            let flow = restriction::flow(kv(record.input("Kv_m3_h")), bar(record.input("dp_bar")), density);
            vec![flow.unwrap().cubic_metres_per_hour()]
        }
        "Kv of a valve with Cv = 1" => {
            vec![restriction::from_cv(record.input("Cv")).unwrap().cubic_metres_per_hour()]
        }
        "Kv of restrictions in series" => {
            let elements = record.inputs("Kv_i_m3_h").into_iter().map(kv);
            vec![restriction::in_series(elements).unwrap().cubic_metres_per_hour()]
        }
        "dp share of the largest restriction in series" => {
            let flow = cubic_metres_per_hour(record.input("Q_m3_h"));
            let drop = |value| restriction::pressure_drop(kv(value), flow, 1.0).unwrap().bar();
            record.inputs("Kv_i_m3_h").into_iter().map(drop).collect()
        }
        "required Kv, turbulent non-choked water (worked example 1)" => {
            let drop = bar((record.input("P1_Pa") - record.input("P2_Pa")) / 1e5);
            assert!(drop < choked(record));
            vec![required(record, drop)]
        }
        "required Kv, choked water (worked example 2)" => {
            let drop = bar((record.input("P1_Pa") - record.input("P2_Pa")) / 1e5);
            let choked = choked(record);
            assert!(drop > choked);
            vec![required(record, choked)]
        }
        "choked check for worked example 1" => {
            let (vapour, critical) = (record.input("Psat_Pa"), record.input("Pc_Pa"));
            let factor = critical_pressure_ratio_factor(pascals(vapour), pascals(critical));
            vec![factor.unwrap(), choked(record).bar() * 100.0]
        }
        "flow of water through a small sharp orifice (beta -> 0)" => {
            let density = record.input("rho_kg_m3") / 1000.0;
            let flow = restriction::flow(orifice(record), bar(record.input("dp_bar")), density);
            vec![flow.unwrap().litres_per_minute()]
        }
        "Kv equivalent of an orifice" => vec![orifice(record).cubic_metres_per_hour()],
        _ => unknown(record),
    });
}

#[test]
fn pumps_and_tanks() {
    check(include_str!("../../../../tests/reference/pumps_and_tanks.json"), |record| {
        match record.quantity() {
            "affinity laws 60 Hz -> 50 Hz" => {
                let duty = Duty {
                    flow: litres_per_minute(record.input("Q1_L_min")),
                    head: metres(record.input("H1_m")),
                    power: Power::from_watts(record.input("P1_W")).unwrap(),
                };
                let slower = at_speed_ratio(duty, 50.0 / 60.0).unwrap();
                vec![slower.flow.litres_per_minute(), slower.head.metres(), slower.power.watts()]
            }
            "gravity emptying time of a prismatic sump (Torricelli)" => vec![emptying(record, 0.0)],
            "time from h0 to h1 with constant inflow and gravity outlet" => {
                vec![emptying(record, record.input("Qin_L_min"))]
            }
            "equilibrium level with constant inflow" => {
                let inflow = litres_per_minute(record.input("Qin_L_min"));
                vec![outlet(record).resting_level(inflow).unwrap().metres()]
            }
            "fill time at constant net flow" => {
                let net = litres_per_minute(record.input("Qin_L_min") - record.input("Qleak_L_min"));
                let (empty, full) = (litres(0.0), litres(record.input("V_L")));
                let Observed::Exactly(time) =
                    fill_time(net, empty, full, Clock::FromFirstWater, None).unwrap()
                else {
                    panic!("nothing ends this fill early");
                };
                vec![time.seconds()]
            }
            _ => unknown(record),
        }
    });
}

/// The worked examples refer the density to water at 15 °C.
fn required(record: &Record, drop: PressureDifference) -> f64 {
    let flow = cubic_metres_per_hour(record.input("Q_m3_s") * 3600.0);
    let at_15 = if97::liquid(Temperature::from_celsius(15.0).unwrap(), AbsolutePressure::STANDARD_ATMOSPHERE);
    let relative_density = record.input("rho_kg_m3") / at_15.unwrap().density();
    restriction::required(flow, drop, relative_density).unwrap().cubic_metres_per_hour()
}

fn choked(record: &Record) -> PressureDifference {
    let [upstream, vapour, critical] = ["P1_Pa", "Psat_Pa", "Pc_Pa"].map(|name| pascals(record.input(name)));
    choked_drop(record.input("FL"), upstream, vapour, critical).unwrap()
}

fn outlet(record: &Record) -> GravityOutlet {
    GravityOutlet {
        surface: record.input("A_m2"),
        outlet: std::f64::consts::FRAC_PI_4 * record.input("d_m").powi(2),
        discharge_coefficient: record.input("Cd"),
    }
}

fn emptying(record: &Record, inflow: f64) -> f64 {
    let (from, to) = (metres(record.input("h0_m")), metres(record.input("h1_m")));
    outlet(record).time(from, to, litres_per_minute(inflow)).unwrap().seconds()
}

fn orifice(record: &Record) -> FlowCoefficient {
    restriction::orifice(metres(record.input("d_m")), record.input("Cd")).unwrap()
}

fn kv(value: f64) -> FlowCoefficient {
    FlowCoefficient::from_cubic_metres_per_hour(value).unwrap()
}

fn bar(value: f64) -> PressureDifference {
    PressureDifference::from_bar(value).unwrap()
}

fn pascals(value: f64) -> AbsolutePressure {
    AbsolutePressure::read(value, "Pa").unwrap()
}

fn cubic_metres_per_hour(value: f64) -> VolumeFlow {
    VolumeFlow::read(value, "m3/h").unwrap()
}

fn litres_per_minute(value: f64) -> VolumeFlow {
    VolumeFlow::from_litres_per_minute(value).unwrap()
}

fn litres(value: f64) -> Volume {
    Volume::from_litres(value).unwrap()
}

fn metres(value: f64) -> Length {
    Length::from_metres(value).unwrap()
}
