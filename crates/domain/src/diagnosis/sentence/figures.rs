//! Figures as people write them.

/// The words of a key.
pub(super) fn words(key: &str) -> String {
    key.replace('_', " ")
}

/// A probability as people say it, never as certain.
pub(super) struct Percent(pub f64);

impl std::fmt::Display for Percent {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let percent = self.0 * 100.0;
        if percent > 99.0 {
            formatter.write_str("more than 99 %")
        } else if percent < 1.0 {
            formatter.write_str("less than 1 %")
        } else {
            write!(formatter, "{percent:.0} %")
        }
    }
}

pub(super) struct Minutes(pub f64);

impl std::fmt::Display for Minutes {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        if self.0 > 0.0 && self.0 < 1.0 {
            formatter.write_str("less than 1")
        } else {
            write!(formatter, "{:.0}", self.0)
        }
    }
}

/// With three significant digits at least, and no more than its size makes sense of.
pub(super) struct Number(pub f64);

impl std::fmt::Display for Number {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let decimals = match self.0.abs() {
            size if size >= 100.0 => 0,
            size if size >= 10.0 => 1,
            size if size >= 0.1 || size == 0.0 => 2,
            _ => 4,
        };
        write!(formatter, "{:.decimals$}", self.0)
    }
}

/// A unit's UCUM code as people write it, with its space.
pub(super) fn unit(code: &str) -> String {
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
