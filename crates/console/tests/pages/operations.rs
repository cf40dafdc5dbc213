//! Every operation of the interface has its place in the pages, or the reason why it has none.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use application::rights::RIGHTS;

use crate::words::texts;

/// `operation: place`, a line each.
const PLACES: &str = include_str!("places.txt");
/// `operation: why it has none`, a line each.
const WITHOUT: &str = include_str!("without_a_place.txt");

fn read(list: &'static str) -> BTreeMap<&'static str, &'static str> {
    let entry = |line: &'static str| line.split_once(": ").unwrap_or_else(|| panic!("no entry: {line}"));
    let entries: BTreeMap<_, _> = list.lines().map(entry).collect();
    assert_eq!(entries.len(), list.lines().count(), "an operation stands there twice");
    entries
}

#[test]
fn every_operation_has_its_place_or_a_reason_why_not() {
    let (places, without) = (read(PLACES), read(WITHOUT));
    let named: BTreeSet<&str> = places.keys().chain(without.keys()).copied().collect();
    let known: BTreeSet<&str> = RIGHTS.iter().map(|right| right.operation).collect();
    let forgotten: Vec<_> = known.difference(&named).collect();
    assert!(forgotten.is_empty(), "neither in places.txt nor in without_a_place.txt: {forgotten:?}");
    let gone: Vec<_> = named.difference(&known).collect();
    assert!(gone.is_empty(), "no operations: {gone:?}");
    let both: Vec<_> = places.keys().filter(|operation| without.contains_key(*operation)).collect();
    assert!(both.is_empty(), "with a place and without: {both:?}");
    assert!(without.values().all(|why| why.split_whitespace().count() > 3), "say why");
}

#[test]
fn every_place_is_an_address_of_the_pages() {
    let mut sources = Vec::new();
    texts(&Path::new(env!("CARGO_MANIFEST_DIR")).join("src"), &mut sources);
    let routes: BTreeSet<&str> = sources
        .iter()
        .flat_map(|source| source.split(".route(\"").skip(1))
        .filter_map(|rest| rest.split('"').next())
        .collect();
    let lost: Vec<_> = read(PLACES).into_iter().filter(|(_, place)| !routes.contains(place)).collect();
    assert!(lost.is_empty(), "no such addresses: {lost:?}");
}
