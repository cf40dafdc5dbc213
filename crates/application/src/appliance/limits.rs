use domain::equipment::{FunctionalLimit, Model};
use store::{UnitOfWork, catalogue};

use crate::catalogue::references;
use crate::refusal::{Fault, Refusal};

/// What is wrong with a machine's own limits: they must be such as its model could state.
pub async fn faults(
    unit: &mut UnitOfWork,
    model: &Model,
    limits: &[FunctionalLimit],
) -> Result<Vec<Fault>, Refusal> {
    if limits.is_empty() {
        return Ok(Vec::new());
    }
    let with_own = Model { functional_limits: limits.to_vec(), ..model.clone() };
    let mut violations = with_own.validate().err().unwrap_or_default();
    violations.retain(|violation| violation.pointer.starts_with("/functional_limits"));
    let procedures = catalogue::procedure::newest_by_key(unit).await?;
    for (index, limit) in limits.iter().enumerate() {
        let pointer = format!("/functional_limits/{index}");
        violations.extend(references::of_measurement(&pointer, &limit.of, limit.quantity, &procedures));
    }
    let fault = |violation: domain::violation::Violation| {
        Fault::at(violation.pointer.replacen("/functional_limits", "/limits", 1), violation.detail)
    };
    Ok(violations.into_iter().map(fault).collect())
}
