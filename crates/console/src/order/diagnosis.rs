//! What is wrong, in sentences; what to do next; what to bring.

use application::see_order::OrderFile;
use domain::diagnosis::Diagnosis;
use domain::procedure::Caution;
use wording::diagnosis as words;

/// Sets that are worth a line.
const SETS: usize = 4;
/// Parts that are worth carrying.
const PARTS: usize = 4;

#[derive(Default)]
pub(crate) struct WrongView {
    pub sentence: String,
    pub sets: Vec<String>,
    pub look_alikes: Vec<String>,
    pub next: String,
    pub next_sentence: Option<String>,
    pub skills_and_care: Vec<String>,
    pub before: Vec<String>,
    pub bring: Vec<String>,
    pub foretold: Vec<(String, bool)>,
    pub not_weighed: Vec<String>,
    /// Why nothing can be said.
    pub none: Option<String>,
}

impl WrongView {
    pub fn of(file: &OrderFile) -> Self {
        match &file.diagnosis {
            Ok(diagnosed) => {
                let not_weighed = diagnosed.not_weighed.iter();
                let not_weighed =
                    not_weighed.map(|of| format!("{}: {}", of.what.replace('_', " "), of.reason)).collect();
                Self { not_weighed, ..Self::in_words(&diagnosed.diagnosis) }
            }
            Err(why) => Self { none: Some(why.clone()), ..Self::default() },
        }
    }

    fn in_words(diagnosis: &Diagnosis) -> Self {
        use domain::diagnosis::Advice;
        let test = match &diagnosis.next.advice {
            Advice::Test(test) => Some(test),
            Advice::DoAndReadAgain(again) => Some(&again.read),
            Advice::MendAndProve | Advice::Isolate => None,
        };
        let cautions = test.into_iter().flat_map(|test| &test.cautions).map(caution);
        Self {
            sentence: words::sentence(diagnosis),
            sets: diagnosis.sets.iter().take(SETS).map(|set| words::of_set(diagnosis, set)).collect(),
            look_alikes: diagnosis
                .look_alikes
                .iter()
                .map(|of| words::of_look_alikes(diagnosis, of))
                .collect(),
            next: words::of_advice(diagnosis),
            next_sentence: test.map(words::of_test),
            skills_and_care: cautions.collect(),
            before: test.map(words::preconditions).unwrap_or_default(),
            bring: bring(diagnosis),
            foretold: diagnosis.readings.iter().map(|of| (words::of_reading(of), of.unexplained)).collect(),
            not_weighed: Vec::new(),
            none: None,
        }
    }
}

/// With the rule that asks for it.
pub(crate) fn caution(of: &Caution) -> String {
    match &of.regulation {
        Some(rule) => format!("{} ({rule})", wording::text(of.text.as_str())),
        None => wording::text(of.text.as_str()).into_owned(),
    }
}

/// Each part with what it adds.
fn bring(diagnosis: &Diagnosis) -> Vec<String> {
    let parts = diagnosis.parts.parts.iter().take(PARTS).filter(|part| part.needed >= 0.05);
    let mut lines: Vec<String> = parts
        .map(|part| {
            let name = wording::term("part", part.part.as_str()).into_owned();
            let variables = [
                ("part", name.into()),
                ("needed", percent(part.needed).into()),
                ("ends", percent(part.ends_job).into()),
            ];
            wording::say_with("bring-part", &variables)
        })
        .collect();
    if !lines.is_empty() {
        let without = percent(diagnosis.parts.without_parts);
        lines.insert(0, wording::say_with("bring-nothing", &[("ends", without.into())]));
    }
    lines
}

pub(crate) fn percent(share: f64) -> String {
    format!("{:.0} %", 100.0 * share)
}
