//! Which language is spoken.

use crate::Manner;

/// A language with all its messages. English is what is said where nobody asks for another.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Language {
    #[default]
    English,
    German,
}

/// Ranges that are read of a wish; nobody speaks more.
const MOST_RANGES: usize = 32;

impl Language {
    pub const ALL: [Self; 2] = [Self::English, Self::German];

    /// Its tag as in BCP 47.
    pub const fn tag(self) -> &'static str {
        match self {
            Self::English => "en",
            Self::German => "de",
        }
    }

    /// What it calls itself.
    pub const fn name(self) -> &'static str {
        match self {
            Self::English => "English",
            Self::German => "Deutsch",
        }
    }

    /// The language of a tag, whatever its region: `de-AT` is German.
    pub fn of_tag(tag: &str) -> Option<Self> {
        let primary = tag.split('-').next().unwrap_or_default();
        Self::ALL.into_iter().find(|language| primary.eq_ignore_ascii_case(language.tag()))
    }

    /// What is spoken here and now.
    pub fn spoken() -> Self {
        Manner::now().language
    }

    /// The best of what is wished for, as `Accept-Language` says it (RFC 9110, 12.5.4; ranges as in RFC 4647): `de-AT, en;q=0.5`.
    /// A range that is none, or whose weight is none, counts for nothing; who wishes for nothing that is spoken here is
    /// answered in English.
    pub fn wished(wish: &str) -> Self {
        let ranges: Vec<(&str, u16)> = wish.split(',').take(MOST_RANGES).filter_map(range).collect();
        let any = ranges.iter().find(|(tag, _)| *tag == "*").map(|(_, weight)| *weight);
        let named = |language: Self| {
            let own = ranges.iter().filter(move |(tag, _)| Self::of_tag(tag) == Some(language));
            own.map(|(_, weight)| *weight).max()
        };
        let weights = Self::ALL.map(|language| (language, named(language).or(any).unwrap_or(0)));
        let best = weights.iter().map(|(_, weight)| *weight).max().unwrap_or(0);
        if best == 0 {
            return Self::default();
        }
        // Of equals the one that was named first, else English.
        let is_best = |language: &Self| weights.contains(&(*language, best));
        let first = ranges.iter().filter_map(|(tag, _)| Self::of_tag(tag)).find(is_best);
        first.or_else(|| Self::ALL.into_iter().find(is_best)).unwrap_or_default()
    }
}

/// A range and its weight in thousandths.
fn range(text: &str) -> Option<(&str, u16)> {
    let (tag, weight) = match text.split_once(';') {
        None => (text.trim(), 1000),
        Some((tag, parameter)) => {
            let (name, value) = parameter.split_once('=')?;
            if !name.trim().eq_ignore_ascii_case("q") {
                return None;
            }
            (tag.trim(), weight(value.trim())?)
        }
    };
    let is_tag =
        tag == "*" || (!tag.is_empty() && tag.bytes().all(|c| c.is_ascii_alphanumeric() || c == b'-'));
    is_tag.then_some((tag, weight))
}

/// `1`, `0.8`, `0.125`: at most three decimals, at most one.
fn weight(text: &str) -> Option<u16> {
    let (whole, decimals) = text.split_once('.').unwrap_or((text, ""));
    let is_digits = |text: &str| text.bytes().all(|c| c.is_ascii_digit());
    if !matches!(whole, "0" | "1") || decimals.len() > 3 || !is_digits(decimals) {
        return None;
    }
    let thousandths = format!("{decimals:0<3}").parse::<u16>().ok()?;
    Some(thousandths + if whole == "1" { 1000 } else { 0 }).filter(|weight| *weight <= 1000)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_best_of_what_is_wished_for_is_spoken() {
        use Language::{English, German};
        for (wish, spoken) in [
            ("de", German),
            ("de-AT", German),
            ("DE-ch-1996", German),
            ("en-GB,en;q=0.9,de;q=0.8", English),
            ("fr, de;q=0.5, en;q=0.3", German),
            ("fr;q=0.9, de ; Q=0.8", German),
            ("de;q=0.5, en;q=0.5", German),
            ("en;q=0.5, de;q=0.5", English),
            ("de-CH;q=0.1, de;q=0.9, en;q=0.5", German),
            // RFC 9110: `*` is whatever is not named; a weight of nought is a refusal.
            ("*", English),
            ("de, *", German),
            ("de, *;q=0.5", German),
            ("*;q=0.5, de;q=0.2", English),
            ("*, en;q=0", German),
            ("en;q=0, de;q=0.001", German),
            ("de;q=0", English),
            ("en;q=0", English),
            ("de;q=0, *", English),
            ("fr, nl", English),
            ("", English),
            // nonsense
            ("deutsch", English),
            ("de;q=2, en;q=0.1", English),
            ("de;q=1.001", English),
            ("de;q=0.1234", English),
            ("de;q=-1", English),
            ("de;q=", English),
            ("de;level=1", English),
            ("de;q=nan", English),
            (";;;===,,,,", English),
            ("d e", English),
            ("de_DE", English),
            ("-de", English),
        ] {
            assert_eq!(Language::wished(wish), spoken, "{wish}");
        }
        let hostile = ["en;q=0.1,".repeat(100_000), "*".repeat(10_000), format!("{}de", "fr,".repeat(1000))];
        for wish in hostile {
            assert_eq!(Language::wished(&wish), English, "{wish:.40}");
        }
    }
}
