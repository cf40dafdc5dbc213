//! What is asked of a plate, and the plate that the answers make.

use std::collections::BTreeSet;

use application::Refusal;
use application::see_catalogue::{Draft, Plate, PlateHeater};
use domain::equipment::{FunctionalLimit, HeaterWiring, Measurement};
use domain::text::{Key, Name};
use domain::vocabulary::Position;

use crate::fields::Fields;
use crate::order::Unit;

/// A number of the plate: its name, its unit, what it is if nobody says.
pub(super) type PlateNumber = (&'static str, &'static str, &'static str);

/// Numbers of the plate, in groups as one goes round a machine.
pub(super) const GROUPS: [(&str, &[PlateNumber]); 3] = [
    (
        "plate-of-water",
        &[
            ("static_pressure_bar", "bar", "3"),
            ("water_temperature_cel", "°C", "15"),
            ("vessel_l", "L", ""),
            ("fill_time_s", "s", ""),
            ("fill_allowed_s", "s", ""),
            ("regulator_from_bar", "bar", ""),
            ("start_up_call_s", "s", ""),
            ("drain_time_s", "s", ""),
        ],
    ),
    (
        "plate-of-wash",
        &[
            ("wash_flow_l_per_min", "L/min", ""),
            ("wash_run_s", "s", ""),
            ("motor_current_a", "A", ""),
            ("capacitor_uf", "µF", ""),
            ("dose_ml", "mL", ""),
            ("rinse_volume_l", "L", ""),
        ],
    ),
    (
        "plate-of-heat",
        &[
            ("supply_voltage_v", "V", "230"),
            ("heater_elements", "", ""),
            ("heater_power_per_element_w", "W", ""),
            ("heater_rated_voltage_v", "V", ""),
            ("heater_heating_time_s", "s", ""),
            ("steam_time_s", "s", ""),
            ("highest_temperature_cel", "°C", ""),
        ],
    ),
];
pub(super) const WIRINGS: [(&str, HeaterWiring); 4] = [
    ("single_phase", HeaterWiring::SinglePhase),
    ("star_with_neutral", HeaterWiring::StarWithNeutral),
    ("star_without_neutral", HeaterWiring::StarWithoutNeutral),
    ("delta", HeaterWiring::Delta),
];

/// The positions that a machine can have.
pub(super) fn positions() -> impl Iterator<Item = Position> {
    Position::ALL.iter().copied().filter(|position| !position.is_external())
}

fn invalid(name: &str, detail: String) -> Refusal {
    Refusal::invalid(format!("/{name}"), detail)
}

/// A number as people write it, with a point or a comma.
fn number(typed: &Fields, name: &str) -> Result<Option<f64>, Refusal> {
    let Some(text) = typed.get(name) else { return Ok(None) };
    let number = text.replace(',', ".").parse::<f64>().ok().filter(|number| number.is_finite());
    number
        .map(Some)
        .ok_or_else(|| invalid(name, wording::say_with("fault-plain-number", &[("text", text.into())])))
}

/// The plate that was described, all that cannot be read of it told at once.
pub(super) fn read(typed: &Fields) -> Result<Plate, Refusal> {
    let mut faults = Vec::new();
    let mut told = |name: &str| match number(typed, name) {
        Ok(number) => number,
        Err(Refusal::Invalid(of)) => {
            faults.extend(of);
            None
        }
        Err(_) => None,
    };
    let heater = match (told("heater_elements"), told("heater_power_per_element_w")) {
        (None, None) => None,
        (elements, power) => Some(PlateHeater {
            // A machine has no part of an element; nought is refused with what would be right.
            elements: elements.map_or(0, |elements| elements.round().clamp(0.0, 1000.0) as u32),
            power_per_element_w: power.unwrap_or(0.0),
            wiring: WIRINGS
                .iter()
                .find(|(word, _)| *word == typed.raw("heater_wiring"))
                .map_or(HeaterWiring::SinglePhase, |(_, wiring)| *wiring),
            rated_voltage_v: told("heater_rated_voltage_v").unwrap_or(0.0),
            heating_time_s: told("heater_heating_time_s"),
        }),
    };
    let mut plate = Plate {
        key: Key::new("unnamed").map_err(|error| invalid("key", error.to_string()))?,
        title: Name::new("unnamed").map_err(|error| invalid("title", error.to_string()))?,
        positions: chosen(typed),
        static_pressure_bar: told("static_pressure_bar").unwrap_or(3.0),
        supply_voltage_v: told("supply_voltage_v").unwrap_or(230.0),
        water_temperature_cel: told("water_temperature_cel").unwrap_or(15.0),
        vessel_l: told("vessel_l"),
        fill_time_s: told("fill_time_s"),
        fill_allowed_s: told("fill_allowed_s"),
        regulator_from_bar: told("regulator_from_bar"),
        start_up_call_s: told("start_up_call_s"),
        wash_flow_l_per_min: told("wash_flow_l_per_min"),
        wash_run_s: told("wash_run_s"),
        motor_current_a: told("motor_current_a"),
        capacitor_uf: told("capacitor_uf"),
        drain_time_s: told("drain_time_s"),
        heater,
        dose_ml: told("dose_ml"),
        rinse_volume_l: told("rinse_volume_l"),
        steam_time_s: told("steam_time_s"),
        wash_stages_cel: Vec::new(),
        highest_temperature_cel: told("highest_temperature_cel"),
        functional_limits: Vec::new(),
    };
    for stage in typed.raw("wash_stages_cel").split_whitespace() {
        if let Ok(stage) = stage.trim_matches([';', ',']).replace(',', ".").parse::<f64>() {
            plate.wash_stages_cel.push(stage);
        } else {
            let detail = wording::say_with("fault-plain-number", &[("text", stage.into())]);
            faults.push(application::Fault::at("/wash_stages_cel", detail));
        }
    }
    match typed.get("title").map(Name::new) {
        Some(Ok(title)) => plate.title = title,
        Some(Err(error)) => faults.push(application::Fault::at("/title", error.to_string())),
        None => faults.push(application::Fault::at("/title", wording::say("fault-own-title"))),
    }
    match Key::new(key(typed)) {
        Ok(key) => plate.key = key,
        Err(_) => faults.push(application::Fault::at("/key", wording::say("fault-own-key"))),
    }
    if faults.is_empty() { Ok(plate) } else { Err(Refusal::Invalid(faults)) }
}

/// The short name that was written, or one made of the title.
pub(super) fn key(typed: &Fields) -> String {
    if let Some(key) = typed.get("key") {
        return key.to_owned();
    }
    let title = typed.raw("title").to_lowercase();
    let words = title.split(|letter: char| !letter.is_ascii_alphanumeric()).filter(|word| !word.is_empty());
    words.collect::<Vec<_>>().join("_")
}

fn chosen(typed: &Fields) -> BTreeSet<Position> {
    typed.all("position").filter_map(|word| word.parse().ok()).collect()
}

/// By which name a person's own ends of a limit are typed.
pub(super) fn limit_name(side: &str, of: &Measurement) -> String {
    let statistic = of.statistic.map_or("", |statistic| statistic.key());
    format!("{side}:{}:{}:{statistic}", of.procedure, of.step)
}

/// The limits that a person knows better than the draft: an end that is not typed stays as drafted.
pub(super) fn own_limits(draft: &Draft, typed: &Fields) -> Result<Vec<FunctionalLimit>, Refusal> {
    let mut own = Vec::new();
    for limit in &draft.model.functional_limits {
        let unit = Unit::of(limit.quantity.canonical_unit());
        let end = |side: &str| number(typed, &limit_name(side, &limit.of));
        let (lower, upper) = (end("lower")?, end("upper")?);
        if lower.is_none() && upper.is_none() {
            continue;
        }
        let drafted = limit.canonical().unwrap_or_default();
        own.push(FunctionalLimit {
            of: limit.of.clone(),
            quantity: limit.quantity,
            lower: lower.map(|typed| unit.read(typed)).or(drafted.lower),
            upper: upper.map(|typed| unit.read(typed)).or(drafted.upper),
            unit: limit.quantity.canonical_unit().to_owned(),
        });
    }
    Ok(own)
}
