//! The curves as a file of their own.

use application::part_life::{GroupOf, PartLives};
use charts::{Lives, Picture, Words, survival};
use domain::site_water::HardnessBand;

pub(super) fn of(lives: &PartLives) -> Picture {
    let told: Vec<String> = lives
        .groups
        .iter()
        .map(|(group, study)| {
            let variables =
                [("name", name(group).into()), ("n", study.n.into()), ("failures", study.failures.into())];
            wording::say_with("part-life-seen", &variables)
        })
        .collect();
    let words = Words {
        id: "part-life",
        title: wording::say("part-life-chart"),
        description: if told.is_empty() { wording::say("part-life-none") } else { told.join("; ") },
    };
    let lives: Vec<Lives<'_>> = lives
        .groups
        .iter()
        .map(|(group, study)| Lives { name: name(group), curve: &study.curve, longest: study.longest })
        .collect();
    survival(&words, wording::say("part-life-age"), wording::say("part-life-share"), &lives)
}

fn name(group: &GroupOf) -> String {
    match group {
        GroupOf::All => wording::say("part-life-all"),
        GroupOf::Part { number, .. } => number.to_string(),
        GroupOf::Position(position) => wording::term("position", position.as_str()).into_owned(),
        GroupOf::Model { title, .. } => wording::text(title).into_owned(),
        GroupOf::Hardness(band) => wording::say(match band {
            None => "part-life-hardness-unknown",
            Some(HardnessBand::Soft) => "part-life-hardness-soft",
            Some(HardnessBand::Medium) => "part-life-hardness-medium",
            Some(HardnessBand::Hard) => "part-life-hardness-hard",
        }),
    }
}
