//! The messages of each language, read once.

use std::sync::LazyLock;

use fluent_bundle::concurrent::FluentBundle;
use fluent_bundle::{FluentArgs, FluentResource};

use crate::{Language, Value};

macro_rules! texts {
    ($folder:literal: $($file:literal)*) => {
        [$(include_str!(concat!("../i18n/", $folder, "/", $file, ".ftl"))),*]
    };
}

const FILES: usize = 11;
const ENGLISH: [&str; FILES] = texts!("en": "shell" "today" "order" "call" "day" "numbers" "catalogue" "office" "terms" "vocabulary"
        "judgement");
const GERMAN: [&str; FILES] = texts!("de": "shell" "today" "order" "call" "day" "numbers" "catalogue" "office" "terms" "vocabulary"
        "judgement");

type Bundle = FluentBundle<FluentResource>;

static BUNDLES: LazyLock<[Bundle; Language::ALL.len()]> = LazyLock::new(|| Language::ALL.map(bundle));

fn bundle(language: Language) -> Bundle {
    let mut bundle = Bundle::new_concurrent(vec![language.tag().parse().unwrap_or_default()]);
    // The pages isolate what people wrote by an element of its own.
    bundle.set_use_isolating(false);
    for text in texts(language) {
        // What a broken message leaves out is found by the test that writes every key.
        let resource = FluentResource::try_new((*text).to_owned()).unwrap_or_else(|(readable, _)| readable);
        bundle.add_resource_overriding(resource);
    }
    bundle
}

pub(crate) const fn texts(language: Language) -> &'static [&'static str; FILES] {
    match language {
        Language::English => &ENGLISH,
        Language::German => &GERMAN,
    }
}

fn of(language: Language) -> &'static Bundle {
    let [english, german] = &*BUNDLES;
    match language {
        Language::English => english,
        Language::German => german,
    }
}

/// The message of this key in a language.
pub(crate) fn message(language: Language, key: &str, variables: &[(&str, Value<'_>)]) -> Option<String> {
    let bundle = of(language);
    let pattern = bundle.get_message(key)?.value()?;
    let arguments: FluentArgs = variables.iter().map(|(name, value)| (*name, value.clone())).collect();
    let mut faults = Vec::new();
    Some(bundle.format_pattern(pattern, Some(&arguments), &mut faults).into_owned())
}
