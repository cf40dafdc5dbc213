//! Names put together from syllables, so that nobody real is meant.

use crate::random::Random;

const GIVEN: [&str; 24] = [
    "Abrel", "Bessany", "Corvin", "Delmar", "Estrid", "Fenna", "Garrow", "Hesper", "Ilvar", "Jorun",
    "Kestra", "Lorcan", "Mirelle", "Nadic", "Ondine", "Perrin", "Quenby", "Rosten", "Sibren", "Tamsel",
    "Ursin", "Velda", "Wystan", "Yorick",
];
const FAMILY_BEGINS: [&str; 16] = [
    "Ambr", "Brask", "Corv", "Dremm", "Elvar", "Fosk", "Grent", "Hask", "Ilvin", "Jarn", "Krell", "Lomm",
    "Mirv", "Narb", "Ostr", "Prell",
];
const FAMILY_ENDS: [&str; 12] =
    ["aven", "igge", "ombray", "ulk", "etter", "olmy", "andry", "issow", "uther", "ekith", "ovar", "imble"];
const HOUSES: [&str; 20] = [
    "Amber",
    "Breakwater",
    "Copper",
    "Driftwood",
    "Ember",
    "Foxglove",
    "Granite",
    "Harbour",
    "Ivy",
    "Juniper",
    "Kittiwake",
    "Lantern",
    "Mallow",
    "Mooring",
    "Osprey",
    "Pebble",
    "Redstart",
    "Sandpiper",
    "Thistle",
    "Weir",
];

pub fn person(random: &mut Random) -> String {
    let (given, begins, ends) = (random.pick(&GIVEN), random.pick(&FAMILY_BEGINS), random.pick(&FAMILY_ENDS));
    format!("{given} {begins}{ends}")
}

/// The name of a house of that kind in that town.
pub fn house(kind: &str, town: &str, random: &mut Random) -> String {
    format!("{} {kind} {town}", random.pick(&HOUSES))
}

/// A number of a block that is not given out: 555-01xx.
pub fn phone(random: &mut Random) -> String {
    format!("+1 {}-555-01{:02}", 200 + random.below(700), random.below(100))
}
