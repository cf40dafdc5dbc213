//! Whether things that a write names are there and belong to each other.

use domain::id::{ContactId, SiteId};
use domain::text::Key;

use crate::{StoreError, UnitOfWork};

/// Whether a contact is one of the site or of its customer.
pub async fn contact_belongs_to(
    unit: &mut UnitOfWork,
    contact: ContactId,
    site: SiteId,
) -> Result<bool, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT EXISTS (
               SELECT FROM contact JOIN site ON site.id = $2
               WHERE contact.id = $1 AND (contact.site_id = site.id OR contact.customer_id = site.customer_id)
           ) AS "belongs!""#,
        contact.uuid(),
        site.uuid()
    )
    .fetch_one(unit.connection())
    .await?)
}

pub async fn site_exists(unit: &mut UnitOfWork, site: SiteId) -> Result<bool, StoreError> {
    Ok(sqlx::query_scalar!(r#"SELECT EXISTS (SELECT FROM site WHERE id = $1) AS "exists!""#, site.uuid())
        .fetch_one(unit.connection())
        .await?)
}

/// Of these symptoms, those that the company's list has.
pub async fn known_symptoms(unit: &mut UnitOfWork, symptoms: &[Key]) -> Result<Vec<String>, StoreError> {
    let codes: Vec<String> = symptoms.iter().map(ToString::to_string).collect();
    Ok(sqlx::query_scalar!("SELECT code FROM symptom_code WHERE code = ANY($1)", &codes)
        .fetch_all(unit.connection())
        .await?)
}
