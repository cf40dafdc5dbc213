//! A move as a form: what it asks for, or what is missing for it, and why it was refused.

use application::Refusal;

use crate::fields::Fields;
use crate::page::refusal_in_words;

/// Something that can be done from a page, now or once what is missing is there.
#[derive(Debug, Clone, Default)]
pub(crate) struct Move {
    /// Names it on its page.
    pub key: String,
    pub action: String,
    pub label: String,
    pub hidden: Vec<(String, String)>,
    pub inputs: Vec<Input>,
    /// Empty if it may be done now.
    pub missing: Vec<String>,
    /// Why it was not done a moment ago.
    pub refusals: Vec<String>,
    /// The one that comes next.
    pub is_main: bool,
}

/// What a form asks for.
#[derive(Debug, Clone)]
pub(crate) enum Input {
    Line {
        name: String,
        label: String,
        value: String,
        is_needed: bool,
    },
    /// Some sentences.
    Text {
        name: String,
        label: String,
        value: String,
        is_needed: bool,
    },
    When {
        name: String,
        label: String,
        value: String,
        is_needed: bool,
    },
    Day {
        name: String,
        label: String,
        value: String,
    },
    Choice {
        name: String,
        label: String,
        options: Vec<Choice>,
    },
    Several {
        name: String,
        label: String,
        options: Vec<Choice>,
    },
    Tick {
        name: String,
        label: String,
        is_on: bool,
    },
}

#[derive(Debug, Clone)]
pub(crate) struct Choice {
    pub value: String,
    pub label: String,
    pub is_chosen: bool,
}

/// What somebody tried a moment ago, and why it was not done: shown beside its button, with what was typed.
#[derive(Debug, Clone, Default)]
pub(crate) struct Attempt {
    pub key: String,
    pub refusals: Vec<String>,
    pub fields: Fields,
}

impl Attempt {
    pub fn refused(key: impl Into<String>, refusal: &Refusal, fields: Fields) -> Self {
        let refusals = match refusal {
            // What is missing stands beside the move already.
            Refusal::Missing(_) => vec![wording::say("refused-not-now")],
            refusal => refusal_in_words(refusal),
        };
        Self { key: key.into(), refusals, fields }
    }

    fn is_of(&self, key: &str) -> bool {
        self.key == key
    }
}

impl Move {
    pub fn new(key: impl Into<String>, action: impl Into<String>, label: impl Into<String>) -> Self {
        Self { key: key.into(), action: action.into(), label: label.into(), ..Self::default() }
    }

    #[must_use]
    #[expect(clippy::needless_pass_by_value, reason = "ids and words are handed in as they come")]
    pub fn with(mut self, name: &str, value: impl ToString) -> Self {
        self.hidden.push((name.to_owned(), value.to_string()));
        self
    }

    #[must_use]
    pub fn asking(mut self, input: Input) -> Self {
        self.inputs.push(input);
        self
    }

    #[must_use]
    pub fn lacking(mut self, missing: Vec<String>) -> Self {
        self.missing = missing;
        self
    }

    /// With the refusal of the last attempt, if it was this move, and what was typed for it.
    #[must_use]
    pub fn after(mut self, attempt: &Attempt) -> Self {
        if attempt.is_of(&self.key) {
            self.refusals.clone_from(&attempt.refusals);
            for input in &mut self.inputs {
                input.fill(&attempt.fields);
            }
        }
        self
    }

    pub fn is_open(&self) -> bool {
        !self.refusals.is_empty()
    }
}

impl Input {
    fn fill(&mut self, typed: &Fields) {
        match self {
            Self::Line { name, value, .. }
            | Self::Text { name, value, .. }
            | Self::When { name, value, .. }
            | Self::Day { name, value, .. } => typed.raw(name).clone_into(value),
            Self::Choice { name, options, .. } | Self::Several { name, options, .. } => {
                for option in options {
                    option.is_chosen = typed.all(name).any(|value| value == option.value);
                }
            }
            Self::Tick { name, is_on, .. } => *is_on = typed.get(name).is_some(),
        }
    }

    pub fn line(name: &str, label: &str, is_needed: bool) -> Self {
        Self::Line { name: name.to_owned(), label: wording::say(label), value: String::new(), is_needed }
    }

    /// With this in it already.
    #[must_use]
    pub fn holding(mut self, text: String) -> Self {
        if let Self::Line { value, .. } = &mut self {
            *value = text;
        }
        self
    }

    /// With these chosen already.
    #[must_use]
    pub fn choosing(mut self, is_chosen: impl Fn(&str) -> bool) -> Self {
        if let Self::Choice { options, .. } | Self::Several { options, .. } = &mut self {
            for option in options {
                option.is_chosen = is_chosen(&option.value);
            }
        }
        self
    }

    pub fn when(name: &str, label: &str, value: String) -> Self {
        Self::When { name: name.to_owned(), label: wording::say(label), value, is_needed: true }
    }

    /// A time, or none.
    pub fn perhaps_when(name: &str, label: &str) -> Self {
        Self::When {
            name: name.to_owned(),
            label: wording::say(label),
            value: String::new(),
            is_needed: false,
        }
    }

    pub fn text(name: &str, label: &str, is_needed: bool) -> Self {
        Self::Text { name: name.to_owned(), label: wording::say(label), value: String::new(), is_needed }
    }

    pub fn day(name: &str, label: &str) -> Self {
        Self::Day { name: name.to_owned(), label: wording::say(label), value: String::new() }
    }

    pub fn tick(name: &str, label: &str) -> Self {
        Self::Tick { name: name.to_owned(), label: wording::say(label), is_on: false }
    }

    /// One of some words; the first stands chosen.
    pub fn choice(name: &str, label: &str, options: impl IntoIterator<Item = (String, String)>) -> Self {
        let mut options: Vec<Choice> =
            options.into_iter().map(|(value, label)| Choice { value, label, is_chosen: false }).collect();
        if let Some(first) = options.first_mut() {
            first.is_chosen = true;
        }
        Self::Choice { name: name.to_owned(), label: wording::say(label), options }
    }

    pub fn several(name: &str, label: &str, options: impl IntoIterator<Item = (String, String)>) -> Self {
        let options =
            options.into_iter().map(|(value, label)| Choice { value, label, is_chosen: false }).collect();
        Self::Several { name: name.to_owned(), label: wording::say(label), options }
    }
}

/// Words of a closed list with their labels.
pub(crate) fn words_of(list: &str, words: &[&str]) -> Vec<(String, String)> {
    words.iter().map(|word| ((*word).to_owned(), wording::term(list, word).into_owned())).collect()
}
