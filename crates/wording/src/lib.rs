//! Labels and sentences for people: all words of the pages stand in `i18n/`, a folder a language.
//!
//! English alone so far. A message is named by its key; the test of whoever uses keys holds each against [`keys`].

use std::borrow::Cow;
use std::sync::LazyLock;

use fluent_bundle::concurrent::FluentBundle;
use fluent_bundle::{FluentArgs, FluentResource, FluentValue};

const ENGLISH: [&str; 9] = [
    include_str!("../i18n/en/shell.ftl"),
    include_str!("../i18n/en/today.ftl"),
    include_str!("../i18n/en/order.ftl"),
    include_str!("../i18n/en/call.ftl"),
    include_str!("../i18n/en/day.ftl"),
    include_str!("../i18n/en/numbers.ftl"),
    include_str!("../i18n/en/catalogue.ftl"),
    include_str!("../i18n/en/office.ftl"),
    include_str!("../i18n/en/terms.ftl"),
];

type Bundle = FluentBundle<FluentResource>;

static BUNDLE: LazyLock<Bundle> = LazyLock::new(|| {
    let mut bundle = Bundle::new_concurrent(vec!["en".parse().unwrap_or_default()]);
    // The pages isolate what people wrote by an element of its own.
    bundle.set_use_isolating(false);
    for text in ENGLISH {
        // What a broken message leaves out is found by the test that writes every key.
        let resource = FluentResource::try_new(text.to_owned()).unwrap_or_else(|(readable, _)| readable);
        bundle.add_resource_overriding(resource);
    }
    bundle
});

/// A value in a message.
pub type Value<'a> = FluentValue<'a>;

/// The message of this key.
pub fn say(key: &str) -> String {
    say_with(key, &[])
}

/// The message of this key with its variables. A key without a message says itself.
pub fn say_with(key: &str, variables: &[(&str, Value<'_>)]) -> String {
    let pattern = BUNDLE.get_message(key).and_then(|message| message.value());
    let Some(pattern) = pattern else { return key.to_owned() };
    let arguments: FluentArgs = variables.iter().map(|(name, value)| (*name, value.clone())).collect();
    let mut faults = Vec::new();
    BUNDLE.format_pattern(pattern, Some(&arguments), &mut faults).into_owned()
}

/// The word of a closed list or of the company's own: `term-<list>-<word>`, or the word itself with its underscores
/// as spaces.
pub fn term(list: &str, word: &str) -> Cow<'static, str> {
    let key = format!("term-{list}-{}", word.replace('_', "-"));
    match BUNDLE.get_message(&key).and_then(|message| message.value()) {
        Some(_) => Cow::Owned(say(&key)),
        None => Cow::Owned(word.replace('_', " ")),
    }
}

/// Every key that has a message.
pub fn keys() -> impl Iterator<Item = &'static str> {
    let lines = ENGLISH.into_iter().flat_map(str::lines);
    lines.filter(|line| line.starts_with(|first: char| first.is_ascii_lowercase())).filter_map(|line| {
        let (key, _) = line.split_once('=')?;
        Some(key.trim_end())
    })
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    #[test]
    fn every_message_is_read_and_no_key_is_given_twice() {
        let mut seen = BTreeSet::new();
        for key in keys() {
            assert!(seen.insert(key), "{key} is given twice");
            let message = BUNDLE.get_message(key);
            assert!(message.is_some_and(|message| message.value().is_some()), "{key} cannot be read");
        }
        assert!(seen.len() > 100);
    }

    #[test]
    fn a_variable_is_put_in_and_counted() {
        assert_eq!(say_with("today-open", &[("count", 1.into())]), "1 open order");
        assert_eq!(say_with("today-open", &[("count", 37.into())]), "37 open orders");
    }

    #[test]
    fn a_word_that_a_company_made_up_reads_as_words() {
        assert_eq!(term("symptom", "hums_at_night"), "hums at night");
        assert_eq!(term("order-state", "repaired_unproven"), "repaired, not yet proven");
    }
}
