//! Every word of both doors stands in `wording`, and every message there is used.

use std::collections::BTreeSet;
use std::path::Path;

use application::rights;
use domain::measures::{LeftOut, Measure};
use domain::role::Scope;

pub fn texts(folder: &Path, all: &mut Vec<String>) {
    for entry in std::fs::read_dir(folder).unwrap().map(Result::unwrap) {
        if entry.path().is_dir() {
            texts(&entry.path(), all);
        } else {
            all.push(std::fs::read_to_string(entry.path()).unwrap());
        }
    }
}

/// What stands between this and the next quotation mark.
fn after<'a>(text: &'a str, mark: &'a str) -> impl Iterator<Item = &'a str> {
    text.split(mark).skip(1).filter_map(|rest| rest.trim_start().strip_prefix('"')?.split('"').next())
}

#[test]
fn every_key_has_its_message_and_every_message_its_place() {
    let mut all = Vec::new();
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    texts(&root.join("src"), &mut all);
    texts(&root.join("templates"), &mut all);
    // The interface words its pictures and definitions from the same messages.
    texts(&root.join("../api/src"), &mut all);
    let known: BTreeSet<&str> = wording::keys().collect();
    let said: BTreeSet<&str> =
        all.iter().flat_map(|text| after(text, "say(").chain(after(text, "say_with("))).collect();
    let unknown: Vec<&&str> = said.difference(&known).collect();
    assert!(unknown.is_empty(), "without a message: {unknown:?}");
    let quoted: BTreeSet<&str> = all.iter().flat_map(|text| text.split('"')).collect();
    // Those whose keys are put together.
    let made = [
        "judge-",
        "verdict-",
        "caution-",
        "term-",
        "fault-",
        "plate-",
        "urgency-what-",
        "measures-title-",
        "measures-means-",
        "measures-out-",
        "quote-approved",
        "quote-declined",
    ];
    let unused: Vec<&&str> =
        known.difference(&quoted).filter(|key| !made.iter().any(|prefix| key.starts_with(prefix))).collect();
    assert!(unused.is_empty(), "without a place: {unused:?}");
}

#[test]
fn every_measure_and_every_reason_to_leave_an_order_out_has_its_words() {
    let known: BTreeSet<&str> = wording::keys().collect();
    let measures = Measure::WORDS.iter().flat_map(|word| [format!("title-{word}"), format!("means-{word}")]);
    let reasons = LeftOut::WORDS.iter().map(|word| format!("out-{word}"));
    for key in measures.chain(reasons) {
        let key = format!("measures-{}", key.replace('_', "-"));
        assert!(known.contains(key.as_str()), "{key}");
    }
}

#[test]
fn every_deed_of_the_trail_has_its_word() {
    let known: BTreeSet<&str> = wording::keys().collect();
    let writes = rights::RIGHTS.iter().chain(rights::PAGE_RIGHTS).filter(|right| right.scope != Scope::Read);
    // What the service itself does; and a list that only administrators may see is no deed.
    let deeds = writes.map(|right| right.operation).chain(["install_catalogue", "mend"]);
    let without: Vec<&str> = deeds
        .filter(|deed| *deed != "list_tokens")
        .filter(|deed| !known.contains(format!("term-deed-{}", deed.replace('_', "-")).as_str()))
        .collect();
    assert!(without.is_empty(), "add term-deed-… to office.ftl: {without:?}");
}

#[test]
fn templates_hold_no_words_of_their_own() {
    let mut all = Vec::new();
    texts(&Path::new(env!("CARGO_MANIFEST_DIR")).join("templates"), &mut all);
    for template in all {
        let mut rest = template.as_str();
        let mut plain = String::new();
        while let Some(start) = rest.find(['<', '{']) {
            plain.push_str(&rest[..start]);
            let (end, length) = match &rest[start..] {
                tag if tag.starts_with("{{") => (tag.find("}}"), 2),
                tag if tag.starts_with("{%") => (tag.find("%}"), 2),
                tag => (tag.find('>'), 1),
            };
            rest = &rest[start + end.unwrap() + length..];
        }
        plain.push_str(rest);
        let words: Vec<&str> = plain
            .split_whitespace()
            .filter(|word| word.chars().filter(|c| c.is_alphabetic()).count() > 1)
            .collect();
        assert!(
            words.is_empty() || words == ["Ovenwright"] || words == ["Ovenwright", "Ovenwright"],
            "{words:?}"
        );
    }
}

#[test]
fn every_question_of_every_catalogue_is_put_in_words_and_so_are_its_answers() {
    let known: BTreeSet<&str> = wording::keys().collect();
    let mut asked = 0;
    for catalogue in domain::equipment::built_in_fault_catalogues() {
        for inspection in catalogue.inspections.iter().filter(|of| of.key.procedure() == "intake") {
            let question = inspection.key.step().replace('_', "-");
            let answers = inspection
                .choices
                .iter()
                .map(|choice| format!("term-answer-{question}-{}", choice.as_str().replace('_', "-")));
            for key in answers.chain([format!("term-ask-{question}")]) {
                assert!(known.contains(key.as_str()), "{key} has no words");
            }
            asked += 1;
        }
    }
    assert!(asked > 30, "{asked}");
}
