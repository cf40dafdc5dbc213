use std::collections::BTreeMap;

use domain::equipment::Model;
use domain::vocabulary::Position;
use store::part::Fit;
use store::{UnitOfWork, catalogue};

use crate::refusal::{Fault, Listed, Refusal};

/// Each place where a part is said to fit must be a position of a model of the catalogue.
pub async fn check(unit: &mut UnitOfWork, fits: &[Fit]) -> Result<(), Refusal> {
    if fits.is_empty() {
        return Ok(());
    }
    let models: BTreeMap<String, Model> = catalogue::model::newest_by_key(unit).await?;
    let faults: Vec<Fault> =
        fits.iter().enumerate().filter_map(|(index, fit)| fault(index, fit, &models)).collect();
    if faults.is_empty() { Ok(()) } else { Err(Refusal::Invalid(faults)) }
}

fn fault(index: usize, fit: &Fit, models: &BTreeMap<String, Model>) -> Option<Fault> {
    let Some(model) = models.get(fit.model_key.as_str()) else {
        let pointer = format!("/fits/{index}/model_key");
        return Some(Fault::not_listed(pointer, "no model has this key", Listed::Models));
    };
    let pointer = || format!("/fits/{index}/position");
    match fit.position.as_str().parse::<Position>() {
        Ok(position) if model.has(position) => None,
        Ok(_) => {
            let known: Vec<_> = model.positions.iter().map(|position| position.key()).collect();
            let detail = format!("{} has no such position; it has {}", model.key, known.join(", "));
            Some(Fault::at(pointer(), detail))
        }
        Err(unknown) => Some(Fault::at(pointer(), unknown.to_string())),
    }
}
