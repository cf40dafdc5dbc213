use domain::id::PartId;
use domain::role::Role;
use domain::text::{Key, Words};
use store::work_order::WorkOrder;
use store::{UnitOfWork, part, test_run};

use crate::{Caller, Refusal};

/// Who may fit a part where the catalogue does not list it.
const MAY_OVERRIDE: &[Role] = &[Role::Manager, Role::Administrator];

/// Refuses a part that the catalogue lists for other places than this one of the order's machine, unless somebody who may
/// gave his word. A part that is listed for no place at all, and a machine that is not known yet, say nothing.
pub(super) async fn require_fitting(
    unit: &mut UnitOfWork,
    order: &WorkOrder,
    part: PartId,
    position: Option<&Key>,
    word: Option<&Words>,
) -> Result<(), Refusal> {
    let (Some(appliance), Some(position), None) = (order.appliance, position, word) else { return Ok(()) };
    let Some(part) = part::get(unit, part).await? else { return Ok(()) };
    let model = test_run::appliances(unit, &[appliance]).await?.remove(&appliance);
    let model = model.map(|appliance| appliance.model_key).unwrap_or_default();
    let fits = |fit: &part::Fit| fit.model_key.as_str() == model && fit.position == *position;
    if part.fits.is_empty() || part.fits.iter().any(fits) {
        return Ok(());
    }
    let places: Vec<String> =
        part.fits.iter().map(|fit| format!("{} of {}", fit.position, fit.model_key)).collect();
    let detail = format!(
        "part {} ({}) does not fit the {position} of {model}; it fits the {}. Choose another part, or let a manager say in \
         fit_override why it goes there",
        part.number,
        part.title,
        places.join(", the ")
    );
    Err(Refusal::invalid("/part_id", detail))
}

/// Only a manager or an administrator overrides.
pub(super) fn require_right(caller: &Caller, word: Option<&Words>) -> Result<(), Refusal> {
    let role = caller.principal.role;
    if word.is_some() && !MAY_OVERRIDE.contains(&role) {
        return Err(Refusal::WrongRole { role, allowed: MAY_OVERRIDE });
    }
    Ok(())
}
