//! A reading in words: what was read, and what was to be expected.

use super::figures::{Number, Percent, unit, words};
use crate::diagnosis::answer::{Expected, ExplainedReading, ReadAs};
use crate::diagnosis::evidence::{Repeats, SetAside};

/// A slip less probable than this is not worth a word.
const WORTH_A_WORD: f64 = 0.05;

impl ExplainedReading {
    /// Predicted against read.
    pub fn sentence(&self) -> String {
        let unit = unit(&self.unit);
        let number = |value: f64| Number(value).to_string();
        let read = match &self.read {
            ReadAs::Value(value) => format!("{}{unit}", number(*value)),
            ReadAs::AtLeast(value) => format!("at least {}{unit}", number(*value)),
            ReadAs::AtMost(value) => format!("at most {}{unit}", number(*value)),
            ReadAs::Between(low, high) => {
                format!("judged between {} and {}{unit}", number(*low), number(*high))
            }
            ReadAs::Choice(choice) => words(choice.as_str()),
        };
        let expected = match &self.expected {
            Expected::Range { low, high, .. } => {
                format!("{} to {}{unit} was to be expected", number(*low), number(*high))
            }
            Expected::NoValue => "nothing was to be read".to_owned(),
            Expected::Choices(choices) => {
                let best = choices.iter().max_by(|a, b| a.1.total_cmp(&b.1));
                best.map_or_else(String::new, |(choice, p)| {
                    format!("{} was to be expected ({})", words(choice.as_str()), Percent(*p))
                })
            }
            Expected::Anything => "anything was to be expected".to_owned(),
        };
        let slip = if self.unexplained {
            format!(". Nothing explains it: most probably a slip ({}); read it again", Percent(self.misread))
        } else if self.misread >= WORTH_A_WORD {
            format!("; a slip with {}", Percent(self.misread))
        } else {
            String::new()
        };
        format!("{}: {read} was read, {expected} by what is most probable{slip}.", self.title)
    }
}

impl SetAside {
    pub fn sentence(&self) -> String {
        format!("{} is set aside: {}.", self.key, self.reason)
    }
}

impl Repeats {
    pub fn sentence(&self) -> String {
        let count = self.observations.len();
        let but = if self.disagree { ", and they differ by more than their uncertainty" } else { "" };
        format!("{} was read {count} times{but}.", words(self.key.step()))
    }
}
