//! Labels and sentences for people: all words of the pages stand in `i18n/`, a folder a language.
//!
//! A message is named by its key; the test of whoever uses keys holds each against [`keys`]. Every language has every
//! key with the same variables. What is said, is said in the language that is spoken: see [`speaking`].

mod bundles;
mod catalogue;
pub mod caution;
pub mod diagnosis;
mod figures;
mod language;
mod manner;
pub mod measure;
mod measures;
pub mod verdict;

pub use catalogue::text;
pub use language::Language;
pub use manner::{Manner, speaking, speaking_now};
pub use measures::{Measures, Unit, usual_code};

use std::borrow::Cow;

use fluent_bundle::FluentValue;

/// A value in a message.
pub type Value<'a> = FluentValue<'a>;

/// The message of this key.
pub fn say(key: &str) -> String {
    say_with(key, &[])
}

/// The message of this key with its variables. A key without a message says itself.
pub fn say_with(key: &str, variables: &[(&str, Value<'_>)]) -> String {
    bundles::message(Language::spoken(), key, variables).unwrap_or_else(|| key.to_owned())
}

/// The word of a closed list or of the company's own: `term-<list>-<word>`, or the word itself with its underscores
/// as spaces.
pub fn term(list: &str, word: &str) -> Cow<'static, str> {
    let key = format!("term-{list}-{}", word.replace('_', "-"));
    let known = bundles::message(Language::spoken(), &key, &[]);
    Cow::Owned(known.unwrap_or_else(|| word.replace('_', " ")))
}

/// A number that is written with a point, as it is written here.
pub fn decimal(mut number: String) -> String {
    if Language::spoken() == Language::German
        && let Some(at) = number.find('.')
    {
        number.replace_range(at..=at, ",");
    }
    number
}

/// Every key that has a message.
pub fn keys() -> impl Iterator<Item = &'static str> {
    keys_of(Language::English)
}

fn keys_of(language: Language) -> impl Iterator<Item = &'static str> {
    let lines = bundles::texts(language).iter().copied().flat_map(str::lines);
    lines.filter(|line| line.starts_with(|first: char| first.is_ascii_lowercase())).filter_map(|line| {
        let (key, _) = line.split_once('=')?;
        Some(key.trim_end())
    })
}

#[cfg(test)]
mod tests {
    use std::collections::{BTreeMap, BTreeSet};

    use super::*;

    /// The variables of each message.
    fn variables(language: Language) -> BTreeMap<&'static str, BTreeSet<&'static str>> {
        let mut all: BTreeMap<&str, BTreeSet<&str>> = BTreeMap::new();
        let mut key = "";
        for line in bundles::texts(language).iter().flat_map(|text| text.lines()) {
            if line.starts_with(|first: char| first.is_ascii_lowercase()) {
                key = line.split('=').next().unwrap_or_default().trim_end();
            }
            let named = line.split('$').skip(1).map(|rest| {
                rest.split(|c: char| !(c.is_ascii_alphanumeric() || c == '_')).next().unwrap_or_default()
            });
            all.entry(key).or_default().extend(named);
        }
        all
    }

    #[test]
    fn every_message_is_read_and_no_key_is_given_twice() {
        for language in Language::ALL {
            let mut seen = BTreeSet::new();
            for key in keys_of(language) {
                assert!(seen.insert(key), "{key} is given twice in {language:?}");
                let message = bundles::message(language, key, &[]);
                assert!(message.is_some_and(|text| !text.is_empty()), "{key} cannot be read in {language:?}");
            }
            assert!(seen.len() > 1000);
        }
    }

    #[test]
    fn every_language_says_everything_with_the_same_variables() {
        let english = variables(Language::English);
        for language in Language::ALL {
            let own = variables(language);
            let missing: Vec<_> = english.keys().filter(|key| !own.contains_key(*key)).collect();
            let idle: Vec<_> = own.keys().filter(|key| !english.contains_key(*key)).collect();
            assert!(
                missing.is_empty() && idle.is_empty(),
                "{language:?} lacks {missing:?}, alone has {idle:?}"
            );
            for (key, variables) in &own {
                assert_eq!(Some(variables), english.get(key), "{key} in {language:?}");
            }
        }
    }

    #[test]
    fn nothing_was_left_in_english() {
        // Words that are the same in both, or are made of signs and variables alone.
        let mut same = BTreeSet::new();
        for key in keys() {
            let said = Language::ALL.map(|language| bundles::message(language, key, &[]));
            if said[0] == said[1] && said[0].as_ref().is_some_and(|text| text.contains(char::is_alphabetic)) {
                same.insert(key);
            }
        }
        let allowed = [
            "first-sign-in-token",
            "span-minutes",
            "span-hours",
            "machine-stands",
            "column-name",
            "person-name",
            "test-minutes",
            "term-grouping-person",
            "term-water-value-ph",
            // Names of people.
            "term-water-value-langelier-index",
            "term-water-value-ryznar-index",
        ];
        let left: Vec<_> = same
            .iter()
            .filter(|key| !allowed.contains(key))
            .filter(|key| {
                bundles::message(Language::English, key, &[]).is_some_and(|text| !text.contains('$'))
            })
            .collect();
        assert!(left.is_empty(), "{left:?}");
    }

    #[test]
    fn a_variable_is_put_in_and_counted() {
        assert_eq!(say_with("today-open", &[("count", 1.into())]), "1 open order");
        assert_eq!(say_with("today-open", &[("count", 37.into())]), "37 open orders");
        speaking_now(Language::German, || {
            assert_eq!(say_with("today-open", &[("count", 1.into())]), "1 offener Auftrag");
            assert_eq!(say_with("today-open", &[("count", 37.into())]), "37 offene Aufträge");
        });
    }

    #[test]
    fn a_word_that_a_company_made_up_reads_as_words() {
        assert_eq!(term("symptom", "hums_at_night"), "hums at night");
        assert_eq!(term("order-state", "repaired_unproven"), "repaired, not yet proven");
        speaking_now(Language::German, || {
            assert_eq!(term("symptom", "hums_at_night"), "hums at night");
            assert_eq!(term("order-state", "repaired_unproven"), "repariert, noch nicht nachgewiesen");
        });
    }

    #[test]
    fn numbers_have_the_mark_of_their_language() {
        assert_eq!(decimal("12.5 bar".to_owned()), "12.5 bar");
        speaking_now(Language::German, || {
            assert_eq!(decimal("12.5".to_owned()), "12,5");
            assert_eq!(decimal("0".to_owned()), "0");
        });
    }
}
