//! What was had beside what was expected, in words that never dress up a small count.

use askama::Template;
use domain::repeats::fleet::{AgainstChance, Standing};

const WIDTH: f64 = 180.0;
const MARGIN: f64 = 6.0;
/// The rates between which the axis runs, on a scale of doublings.
const SMALLEST: f64 = 0.25;
const LARGEST: f64 = 16.0;

/// A rate as a multiple of the fleet's with its interval, ready to be drawn.
#[derive(Debug, Clone, Template)]
#[template(path = "parts/rate.html")]
pub(crate) struct Rate {
    label: String,
    lower: String,
    mean: String,
    upper: String,
    /// Where the fleet's own rate lies, and twice of it.
    once: String,
    twice: String,
    is_bad: bool,
}

/// Its template escapes what it is given.
impl askama::filters::HtmlSafe for Rate {}

impl Rate {
    pub fn of(standing: &Standing) -> Option<Self> {
        let rate = standing.assessment?;
        let variables = [
            ("mean", figure(rate.mean).into()),
            ("lower", figure(rate.lower).into()),
            ("upper", figure(rate.upper).into()),
        ];
        Some(Self {
            label: wording::say_with("repeats-rate", &variables),
            lower: place(rate.lower),
            mean: place(rate.mean),
            upper: place(rate.upper),
            once: place(1.0),
            twice: place(2.0),
            is_bad: rate.lower > 1.0,
        })
    }
}

fn place(rate: f64) -> String {
    let share = (rate.clamp(SMALLEST, LARGEST) / SMALLEST).ln() / (LARGEST / SMALLEST).ln();
    format!("{:.1}", MARGIN + share * (WIDTH - 2.0 * MARGIN))
}

/// Two figures that count: 0.04, 1.4, 12.
pub(crate) fn figure(value: f64) -> String {
    wording::decimal(match value {
        value if value >= 9.95 => format!("{value:.0}"),
        value if value >= 0.095 || value == 0.0 => format!("{value:.1}"),
        value => format!("{value:.2}"),
    })
}

/// How many kitchens it takes for one that has so many by chance: 1 in so many, rounded as far as anybody cares.
pub(crate) fn rarity(chance: f64) -> String {
    const MOST: f64 = 1e6;
    let one_in = 1.0 / chance.max(1.0 / MOST);
    let unit = 10_f64.powf(one_in.log10().floor() - 1.0).max(1.0);
    format!("{:.0}", (one_in / unit).round() * unit)
}

/// The count as a sentence.
pub(crate) fn sentence(standing: &Standing, days: i64) -> String {
    let cell = standing.cell;
    let n = if standing.says == AgainstChance::NoFleet { cell.n_without_fleet } else { cell.n };
    let variables = [
        ("n", n.into()),
        ("days", days.into()),
        ("expected", figure(cell.expected).into()),
        ("rarity", rarity(standing.tail.unwrap_or(1.0)).into()),
    ];
    let sentence = match standing.says {
        AgainstChance::Beyond => wording::say_with("against-beyond", &variables),
        AgainstChance::Within => wording::say_with("against-within", &variables),
        AgainstChance::TooLittleToTell => wording::say_with("against-too-little", &variables),
        AgainstChance::NoFleet => wording::say_with("against-no-fleet", &variables),
    };
    if cell.n_without_fleet == 0 || standing.says == AgainstChance::NoFleet {
        return sentence;
    }
    let more = wording::say_with("against-alone", &[("n", cell.n_without_fleet.into())]);
    format!("{sentence} {more}")
}

/// The same in a cell of a table.
pub(crate) fn says(standing: &Standing) -> String {
    match standing.says {
        AgainstChance::Beyond => {
            wording::say_with("says-beyond", &[("rarity", rarity(standing.tail.unwrap_or(1.0)).into())])
        }
        AgainstChance::Within => wording::say("says-within"),
        AgainstChance::TooLittleToTell => wording::say("says-too-little"),
        AgainstChance::NoFleet => wording::say("says-no-fleet"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_say_no_more_than_is_known() {
        assert_eq!(
            ["0.0", "0.04", "1.4", "12"],
            [0.0, 0.043, 1.44, 11.7].map(figure).each_ref().map(String::as_str)
        );
        let rarities = [0.5, 0.0031, 0.000_12, 0.0].map(rarity);
        assert_eq!(["2", "320", "8300", "1000000"], rarities.each_ref().map(String::as_str));
    }
}
