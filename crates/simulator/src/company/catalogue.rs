use std::collections::BTreeMap;
use std::sync::{Arc, LazyLock};

use domain::equipment::{Model, demo_combi, demo_warewasher};
use domain::id::PartId;

use super::Settings;
use crate::history::{Entry, Part};
use crate::physics::Design;
use crate::random::Random;
use crate::remedy::PartKind;

pub const CURRENCY: &str = "EUR";

/// Parts are numbered in words and by their model: `fill-valve-11` is that of the first. What a company numbers
/// itself begins from 01.
const FIRST_NUMBER: usize = 11;

/// An invented larger combi, the company's own model beside the built-in ones: a restrictor after the
/// valve, and liquid chemical dosed by a pump.
pub fn large_combi() -> &'static Model {
    &LARGE_COMBI
}

static LARGE_COMBI: LazyLock<Model> = LazyLock::new(|| {
    #[expect(clippy::expect_used, reason = "the file is compiled in, and a test reads it")]
    serde_json::from_str(include_str!("../../data/large_combi.json")).expect("a well-formed model")
});

/// The models that the company looks after and the parts that fit them.
#[derive(Debug)]
pub struct Catalogue {
    pub designs: Vec<Arc<Design>>,
    parts: BTreeMap<(PartKind, usize), Part>,
}

impl Catalogue {
    #[expect(clippy::expect_used, reason = "a test makes a catalogue of these models")]
    pub(super) fn of(settings: &Settings) -> Self {
        let mut random = Random::new(settings.seed, u64::MAX);
        let models = [demo_combi(), large_combi(), demo_warewasher()];
        let designs: Vec<_> = models
            .iter()
            .map(|model| Arc::new(Design::of(model).expect("a fully described model")))
            .collect();
        let mut parts = BTreeMap::new();
        for kind in PartKind::ALL {
            for (index, model) in models.iter().enumerate() {
                let position = if kind == PartKind::Mesh && !model.has(kind.position()) {
                    domain::vocabulary::Position::ValveStrainer
                } else {
                    kind.position()
                };
                if !model.has(position) {
                    continue;
                }
                let part = Part {
                    id: random.id(settings.start),
                    number: format!("{}-{}", kind.words(), FIRST_NUMBER + index),
                    name: format!("{}, {}", kind.title(), model.title),
                    models: vec![designs[index].key],
                    position: position.key(),
                    price_hundredths: kind.price_hundredths() * [100, 135, 110][index] / 100,
                    currency: CURRENCY,
                    consumable: kind.is_consumable(),
                };
                parts.insert((kind, index), part);
            }
        }
        Self { designs, parts }
    }

    pub(super) fn entries(&self) -> impl Iterator<Item = Entry> + '_ {
        let own = std::iter::once(Entry::Model(Box::new(large_combi().clone())));
        own.chain(self.parts.values().cloned().map(Entry::Part))
    }

    pub(super) fn part(&self, kind: PartKind, design: usize) -> Option<&Part> {
        self.parts.get(&(kind, design))
    }

    pub(super) fn parts_of(&self, design: usize) -> impl Iterator<Item = (PartKind, PartId)> + '_ {
        self.parts.iter().filter(move |((_, of), _)| *of == design).map(|((kind, _), part)| (*kind, part.id))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_large_combi_holds_the_rules_of_a_model() {
        assert_eq!(large_combi().validate(), Ok(()));
    }
}
