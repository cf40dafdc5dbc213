//! Numbers as wet fingers type them, and units as people write them.

use domain::quantity::{AsRead, AsReadError, HardnessScale, QuantityKind};

use crate::parts::moves::Choice;

/// What stands before the degree in a field that says the unit.
const DEGREES: &str = "degrees:";

/// The number in a text: a comma is a point; a time may be `1:12`, which is then in seconds.
pub(super) fn number(text: &str, kind: Option<QuantityKind>) -> Option<f64> {
    let text = text.trim().replace(',', ".").replace('\u{2212}', "-");
    if kind == Some(QuantityKind::Duration)
        && let Some((minutes, seconds)) = text.split_once(':')
    {
        let (minutes, seconds): (u32, f64) = (minutes.parse().ok()?, seconds.parse().ok()?);
        return (0.0..60.0).contains(&seconds).then(|| f64::from(minutes) * 60.0 + seconds);
    }
    text.parse().ok().filter(|number: &f64| number.is_finite())
}

/// A value as it was typed, in the unit that was chosen.
pub(super) fn as_read(text: &str, value: f64, unit: &str) -> Result<AsRead, AsReadError> {
    let scale = unit
        .strip_prefix(DEGREES)
        .and_then(|name| HardnessScale::ALL.into_iter().find(|of| key(*of) == name));
    match scale {
        Some(scale) => AsRead::degrees_of_hardness(text, value, scale),
        None => AsRead::new(text, value, unit),
    }
}

/// The units that a quantity is read in, the one that people think in first.
pub(super) fn units(kind: QuantityKind, chosen: &str) -> Vec<Choice> {
    let usual = wording::usual_code(kind);
    let others = kind.accepted_units().filter(|code| *code != usual);
    let codes = std::iter::once(usual).chain(others).map(|code| (code.to_owned(), unit(code)));
    let degrees = HardnessScale::ALL.into_iter().filter(|_| kind == QuantityKind::Hardness);
    let degrees = degrees.map(|scale| (format!("{DEGREES}{}", key(scale)), scale.title().to_owned()));
    let all = codes.chain(degrees);
    all.map(|(value, label)| Choice { is_chosen: value == chosen, value, label }).collect()
}

fn key(scale: HardnessScale) -> &'static str {
    match scale {
        HardnessScale::GermanDegree => "german",
        HardnessScale::FrenchDegree => "french",
        HardnessScale::EnglishDegree => "english",
    }
}

/// A unit's UCUM code as people write it; a code that is read as it stands stays.
fn unit(code: &str) -> String {
    let written = match code {
        "1" => return wording::say("unit-one"),
        "[psi]" => "psi",
        "[degF]" => "°F",
        "[gal_us]" => "gal (US)",
        "[gal_us]/min" => "gal/min (US)",
        "[in_i]" => "in",
        "[ft_i]" => "ft",
        "[lb_av]" => "lb",
        // Typed as they stand, whatever they are told in.
        "m" => "m",
        "bar" => "bar",
        "Cel" => "°C",
        "K" => "K",
        "L" => "L",
        "L/min" => "L/min",
        "mmol/L" => "mmol/L",
        "kg" => "kg",
        "[gr]/[gal_us]" => "gr/gal (US)",
        code => {
            let known = crate::order::Unit::of(code).name();
            return if known.is_empty() {
                code.trim_matches(['[', ']']).to_owned()
            } else {
                known.to_owned()
            };
        }
    };
    written.to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_typed_is_read() {
        for (text, value) in [("12.4", 12.4), (" 12,4 ", 12.4), ("\u{2212}3", -3.0), ("1e3", 1000.0)] {
            assert_eq!(number(text, Some(QuantityKind::Temperature)), Some(value), "{text}");
        }
        for (text, value) in [("1:12", 72.0), ("0:07,5", 7.5), ("95", 95.0)] {
            assert_eq!(number(text, Some(QuantityKind::Duration)), Some(value), "{text}");
        }
        for nonsense in ["", "soon", "1:72", "nan", "inf", "1:2:3", "12 s", "--1"] {
            assert_eq!(number(nonsense, Some(QuantityKind::Duration)), None, "{nonsense}");
        }
        assert_eq!(number("1:12", Some(QuantityKind::Voltage)), None);
    }

    #[test]
    fn every_unit_of_every_quantity_can_be_chosen_and_is_taken() {
        for kind in QuantityKind::ALL {
            let units = units(kind, "");
            assert!(!units.is_empty(), "{kind}");
            for unit in units {
                assert!(!unit.label.is_empty(), "{kind} {}", unit.value);
                let read = as_read("7", 7.0, &unit.value).unwrap();
                assert!(
                    read.canonical(kind).is_ok()
                        || matches!(read.canonical(kind), Err(AsReadError::Quantity(_))),
                    "{kind} {}",
                    unit.value
                );
                let does_not_fit =
                    read.canonical(kind).err().is_some_and(|error| error.to_string().contains("UCUM"));
                assert!(!does_not_fit, "{kind} {}", unit.value);
            }
        }
    }
}
