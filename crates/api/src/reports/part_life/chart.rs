//! The curves as a file of their own, in English as the interface is.

use application::part_life::{GroupOf, PartLives};
use charts::{Axis, Picture, Step, Steps, Words, steps};

pub(super) fn of(lives: &PartLives) -> Picture {
    let curves: Vec<Steps> = lives
        .groups
        .iter()
        .map(|(group, study)| {
            let begin = Step { from: study.curve.given_age, value: 1.0, limits: None };
            let after = study.curve.steps.iter().map(|step| Step {
                from: step.age,
                value: step.survival,
                limits: step.lower.zip(step.upper),
            });
            Steps {
                name: name(group),
                steps: std::iter::once(begin).chain(after).collect(),
                until: study.longest,
            }
        })
        .collect();
    let longest = curves.iter().map(|curve| curve.until).fold(1.0, f64::max);
    let told: Vec<String> = lives
        .groups
        .iter()
        .map(|(group, study)| format!("{}: {} lives, {} failures", name(group), study.n, study.failures))
        .collect();
    let words = Words {
        id: "part-life",
        title: "Share of parts still in service, by age".to_owned(),
        description: if told.is_empty() { "No life is known.".to_owned() } else { told.join("; ") },
    };
    let age =
        Axis { label: "Age, days".to_owned(), from: 0.0, to: longest, written: |days| format!("{days:.0}") };
    let share = Axis {
        label: "Still in service, %".to_owned(),
        from: 0.0,
        to: 1.0,
        written: |share| format!("{:.0}", 100.0 * share),
    };
    steps(&words, &age, &share, &curves)
}

fn name(group: &GroupOf) -> String {
    match group {
        GroupOf::All => "all".to_owned(),
        GroupOf::Part { number, .. } => number.to_string(),
        GroupOf::Position(position) => position.to_string(),
        GroupOf::Model(model) => model.to_string(),
        GroupOf::Hardness(None) => "hardness not known".to_owned(),
        GroupOf::Hardness(Some(band)) => format!("{band} water"),
    }
}
