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

/// Below this it is nothing: the last digits of two numbers that should be alike.
pub(super) const NO_MINUTES: f64 = 1e-6;

pub(super) struct Minutes(pub f64);

impl std::fmt::Display for Minutes {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        if self.0 > NO_MINUTES && self.0 < 1.0 {
            formatter.write_str("less than 1")
        } else {
            write!(formatter, "{:.0}", self.0)
        }
    }
}
