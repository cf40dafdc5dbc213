use std::collections::BTreeMap;
use std::sync::{Arc, LazyLock};

use domain::equipment::{FaultCatalogue, Model, Reads, demo_combi, demo_combi_faults, demo_warewasher};
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

/// What can be wrong with the larger combi: the faults of the smaller one, which is built alike. Its sump holds
/// more, its pump moves more, its parts cost more; all else is a number of the model, or the same.
pub fn large_combi_faults() -> &'static FaultCatalogue {
    &LARGE_COMBI_FAULTS
}

static LARGE_COMBI_FAULTS: LazyLock<FaultCatalogue> = LazyLock::new(|| {
    let mut catalogue = demo_combi_faults().clone();
    catalogue.model = large_combi().key.clone();
    let litres = |model: &Model| model.sump.map_or(1.0, |sump| sump.full_l);
    let larger = litres(large_combi()) / litres(demo_combi());
    let stronger = sound_flow(large_combi()) / sound_flow(demo_combi());
    for measurement in &mut catalogue.measurements {
        let factor = match measurement.reads {
            Reads::FilledVolume => larger,
            Reads::FirstFlow => stronger,
            _ => continue,
        };
        let scaled = |(low, high): (f64, f64)| (low * factor, high * factor);
        measurement.range = scaled(measurement.range);
        measurement.judged.values_mut().for_each(|range| *range = scaled(*range));
    }
    for part in catalogue.faults.iter_mut().flat_map(|fault| &mut fault.remedy.parts) {
        part.price = (part.price * DEARER).round();
    }
    catalogue
});

/// What a part of the larger combi costs over that of the smaller: as the parts of the company do.
const DEARER: f64 = 1.35;

/// Where the pump's curve meets that of the system, L/s.
fn sound_flow(model: &Model) -> f64 {
    model.wash_pump.map_or(1.0, |pump| {
        let lift = pump.shut_off_head_m - pump.system_static_head_m;
        (lift / (pump.curve_m_per_l_per_s_squared + pump.system_curve_m_per_l_per_s_squared)).sqrt()
    })
}

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
        let own = [
            Entry::Model(Box::new(large_combi().clone())),
            Entry::FaultCatalogue(Box::new(large_combi_faults().clone())),
        ];
        own.into_iter().chain(self.parts.values().cloned().map(Entry::Part))
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

    /// 41 L/min are the typical flow of the model, 30 those of the smaller one.
    #[test]
    fn the_faults_of_the_large_combi_hold_the_rules_of_a_catalogue() {
        let catalogue = large_combi_faults();
        assert_eq!(catalogue.validate(large_combi()), Ok(()));
        let strength = catalogue.measurements.iter().find(|of| of.key.as_str() == "wash_flow_hold/strength");
        let judged: Vec<f64> = strength.unwrap().judged.values().map(|range| range.1).collect();
        assert!(judged.iter().any(|strong| (strong - 24.0 * 41.0 / 30.0).abs() < 0.1), "{judged:?}");
    }
}
