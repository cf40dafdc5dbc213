//! The curves as a file of their own, in English as the interface is.

use application::part_life::{GroupOf, PartLives};
use charts::{Lives, Picture, Words, survival};

pub(super) fn of(lives: &PartLives) -> Picture {
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
    let lives: Vec<Lives<'_>> = lives
        .groups
        .iter()
        .map(|(group, study)| Lives { name: name(group), curve: &study.curve, longest: study.longest })
        .collect();
    survival(&words, "Age, days".to_owned(), "Still in service, %".to_owned(), &lives)
}

fn name(group: &GroupOf) -> String {
    match group {
        GroupOf::All => "all".to_owned(),
        GroupOf::Part { number, .. } => number.to_string(),
        GroupOf::Position(position) => position.to_string(),
        GroupOf::Model { key, .. } => key.to_string(),
        GroupOf::Hardness(None) => "hardness not known".to_owned(),
        GroupOf::Hardness(Some(band)) => format!("{band} water"),
    }
}
