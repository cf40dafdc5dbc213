//! Texts of the catalogue that come with the service, in other languages than the one in which they were written.

use std::borrow::Cow;
use std::collections::HashMap;
use std::sync::LazyLock;

use crate::{Language, say, say_with, term};

static GERMAN: LazyLock<HashMap<String, String>> = LazyLock::new(|| {
    // A file that cannot be read says nothing; the test that looks for every text finds it.
    serde_json::from_str(include_str!("../i18n/de/catalogue.json")).unwrap_or_default()
});

/// What a text leaves open, as it stands in it: what the model fills in, a fault's title, a position.
const PLACES: [&str; 3] = ["{highest_temperature}", "{fault}", "{position}"];

/// A title, an instruction or a caution in the language that is spoken; as it was written where nobody translated it, a
/// company's own among them.
pub fn text(written: &str) -> Cow<'_, str> {
    let texts = match Language::spoken() {
        Language::English => return Cow::Borrowed(written),
        Language::German => &*GERMAN,
    };
    if let Some(said) = texts.get(written) {
        return Cow::Owned(said.clone());
    }
    // A title may have the stage behind it that is timed: `Time to the first stage (50 °C)`.
    if let Some((title, stage)) = written.strip_suffix(')').and_then(|text| text.rsplit_once(" ("))
        && let Some(said) = texts.get(title)
    {
        return Cow::Owned(format!("{said} ({stage})"));
    }
    filled(texts, written).map_or(Cow::Borrowed(written), Cow::Owned)
}

/// A text whose place was filled.
fn filled(texts: &HashMap<String, String>, written: &str) -> Option<String> {
    texts.iter().find_map(|(text, said)| {
        let (place, (before, after)) =
            PLACES.iter().find_map(|place| Some((*place, text.split_once(place)?)))?;
        let between = written.strip_prefix(before)?.strip_suffix(after)?;
        let filling = match place {
            "{fault}" => texts.get(between)?.clone(),
            "{position}" => term("position", &between.replace(' ', "_")).into_owned(),
            _ => match between.strip_prefix("hot, up to ") {
                Some(degrees) => say_with("caution-hot-up-to", &[("degrees", degrees.to_owned().into())]),
                None => say("caution-scalding"),
            },
        };
        Some(said.replace(place, &filling))
    })
}
