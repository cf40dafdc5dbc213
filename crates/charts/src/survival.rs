//! Shares still in service by age, each with its band.

use domain::reliability::kaplan_meier::SurvivalCurve;

use crate::picture::SERIES;
use crate::{Axis, Picture, Step, Steps, Words, steps};

/// Lives of one group.
#[derive(Debug, Clone)]
pub struct Lives<'a> {
    pub name: String,
    pub curve: &'a SurvivalCurve,
    /// The longest that was seen, in days.
    pub longest: f64,
}

/// The first four, from the age on from which a curve is known, as far as anything was seen. `age` and `share` are what the axes are called.
pub fn survival(words: &Words, age: String, share: String, lives: &[Lives<'_>]) -> Picture {
    let curves: Vec<Steps> = lives.iter().take(SERIES.len()).map(of).collect();
    let longest = curves.iter().map(|curve| curve.until).fold(1.0, f64::max);
    let x = Axis { label: age, from: 0.0, to: longest, written: |days| format!("{days:.0}") };
    let y = Axis { label: share, from: 0.0, to: 1.0, written: |share| format!("{:.0}", 100.0 * share) };
    steps(words, &x, &y, &curves)
}

fn of(lives: &Lives<'_>) -> Steps {
    let begin = Step { from: lives.curve.given_age, value: 1.0, limits: None };
    let after = lives.curve.steps.iter().map(|step| Step {
        from: step.age,
        value: step.survival,
        limits: step.lower.zip(step.upper),
    });
    let steps = std::iter::once(begin).chain(after).collect();
    Steps { name: lives.name.clone(), steps, until: lives.longest }
}

#[cfg(test)]
mod tests {
    use domain::reliability::Life;
    use domain::reliability::kaplan_meier::kaplan_meier;

    use super::*;

    #[test]
    fn a_curve_begins_where_it_is_known_and_ends_with_what_was_seen() {
        let life = |exit, failed| Life { entry: 10.0, exit, failed };
        let curve = kaplan_meier(&[life(30.0, true), life(40.0, false)], 0.95).unwrap();
        let drawn = of(&Lives { name: "one".to_owned(), curve: &curve, longest: 40.0 });
        assert_eq!((drawn.steps[0].from, drawn.steps[0].value, drawn.until), (curve.given_age, 1.0, 40.0));
        assert_eq!((drawn.steps[1].from, drawn.steps[1].value), (30.0, 0.5));
    }
}
