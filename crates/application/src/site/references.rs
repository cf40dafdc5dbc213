use domain::id::{BranchId, CustomerId};
use domain::text::Name;
use store::{UnitOfWork, branch, customer, time_zone};

use crate::refusal::{Fault, Refusal};

/// What a site speaks of must be there; all that is not is told at once.
pub async fn check(
    unit: &mut UnitOfWork,
    customer: Option<CustomerId>,
    branch: Option<BranchId>,
    time_zone: Option<&Name>,
) -> Result<(), Refusal> {
    let mut faults = Vec::new();
    if let Some(id) = customer
        && customer::get(unit, id).await?.is_none()
    {
        faults.push(Fault::at("/customer_id", "no customer has this id"));
    }
    if let Some(id) = branch
        && branch::get(unit, id).await?.is_none()
    {
        faults.push(Fault::at("/branch_id", "no branch has this id"));
    }
    if let Some(name) = time_zone
        && !time_zone::is_known(unit, name.as_str()).await?
    {
        let detail = "is no zone of the IANA time zone database, such as Europe/Lisbon, or UTC";
        faults.push(Fault::at("/time_zone", detail));
    }
    if faults.is_empty() { Ok(()) } else { Err(Refusal::Invalid(faults)) }
}
