//! Figures as people write them.

use crate::{decimal, say};

/// A probability as people say it, never as certain.
pub(crate) fn percent(probability: f64) -> String {
    let percent = probability * 100.0;
    if percent > 99.0 {
        say("judge-more-than-99")
    } else if percent < 1.0 {
        say("judge-less-than-1")
    } else {
        format!("{percent:.0} %")
    }
}

/// Below this it is nothing: the last digits of two numbers that should be alike.
pub(crate) const NO_MINUTES: f64 = 1e-6;

pub(crate) fn minutes(minutes: f64) -> String {
    if minutes > NO_MINUTES && minutes < 1.0 {
        say("judge-less-than-one-minute")
    } else {
        format!("{minutes:.0}")
    }
}

/// With three significant digits at least, and no more than its size makes sense of.
pub(crate) fn number(value: f64) -> String {
    let decimals = match value.abs() {
        size if size >= 100.0 => 0,
        size if size >= 10.0 => 1,
        size if size >= 0.1 || size == 0.0 => 2,
        _ => 4,
    };
    decimal(format!("{value:.decimals$}"))
}

/// A unit's UCUM code as people write it, with its space.
pub(crate) fn unit(code: &str) -> String {
    let written = match code {
        "" | "1" => return String::new(),
        "Cel" => "°C",
        "[degF]" => "°F",
        "Ohm" => "Ω",
        "kOhm" => "kΩ",
        "MOhm" => "MΩ",
        "GOhm" => "GΩ",
        "uF" => "µF",
        "uS/cm" => "µS/cm",
        "m3/h" => "m³/h",
        "[psi]" => "psi",
        "[pH]" => "pH",
        "[in_i]" => "in",
        "[gal_us]" => "US gal",
        other => other,
    };
    format!(" {written}")
}

/// Four significant digits at most, without trailing zeros.
pub(crate) fn significant(value: f64) -> String {
    let size = value.abs();
    if value == 0.0 {
        return "0".to_owned();
    }
    if !(1e-6..1e12).contains(&size) {
        return decimal(format!("{value:.3e}"));
    }
    let before_point = size.log10().floor() as i32;
    let decimals = (3 - before_point).max(0) as usize;
    let text = format!("{value:.decimals$}");
    // What was rounded up to the next power of ten has a digit more.
    let text =
        if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text };
    decimal(text)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_have_four_significant_digits_at_most() {
        for (value, text) in [
            (12.7099, "12.71"),
            (20.0, "20"),
            (0.944, "0.944"),
            (1234.56, "1235"),
            (0.0, "0"),
            (-0.05, "-0.05"),
            (100.0, "100"),
            (99.99999, "100"),
            (-12.5, "-12.5"),
            (0.001_234_56, "0.001235"),
            (1.5e15, "1.500e15"),
            (1e-9, "1.000e-9"),
        ] {
            assert_eq!(significant(value), text);
        }
    }
}
