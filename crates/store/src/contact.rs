//! People to reach at a customer or a kitchen: the only table with personal data of theirs.

use chrono::{DateTime, Utc};
use domain::id::{ContactId, CustomerId, SiteId};
use domain::text::Name;
use domain::time::Timestamp;
use serde::Serialize;
use uuid::Uuid;

use crate::creation::create;
use crate::error::{Readable, stored, stored_option};
use crate::page::list;
use crate::search::containing;
use crate::{Creation, Database, Page, PageRequest, Position, ReadScope, StoreError, UnitOfWork};

/// Whom a contact belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum Belongs {
    ToCustomer(CustomerId),
    ToSite(SiteId),
}

#[derive(Debug, Clone, Serialize)]
pub struct NewContact {
    pub id: ContactId,
    pub belongs: Belongs,
    pub name: Name,
    pub phone: Option<Name>,
}

#[derive(Debug, Clone)]
pub struct Contact {
    pub id: ContactId,
    pub customer: Option<CustomerId>,
    pub site: Option<SiteId>,
    /// `None` once erased.
    pub name: Option<Name>,
    pub phone: Option<Name>,
    pub erased_at: Option<Timestamp>,
    pub version: i64,
    pub created_at: Timestamp,
}

struct Row {
    id: Uuid,
    customer_id: Option<Uuid>,
    site_id: Option<Uuid>,
    name: Option<String>,
    phone: Option<String>,
    erased_at: Option<DateTime<Utc>>,
    version: i64,
    created_at: DateTime<Utc>,
}

impl TryFrom<Row> for Contact {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let id = row.id;
        Ok(Self {
            id: stored(id, "contact", "id", id)?,
            customer: stored_option(row.customer_id, "contact", "customer_id", id)?,
            site: stored_option(row.site_id, "contact", "site_id", id)?,
            name: stored_option(row.name, "contact", "name", id)?,
            phone: stored_option(row.phone, "contact", "phone", id)?,
            erased_at: stored_option(row.erased_at, "contact", "erased_at", id)?,
            version: row.version,
            created_at: stored(row.created_at, "contact", "created_at", id)?,
        })
    }
}

pub async fn insert(unit: &mut UnitOfWork, new: &NewContact, hash: &[u8]) -> Result<Creation, StoreError> {
    let now = unit.now().instant();
    let (customer, site) = match new.belongs {
        Belongs::ToCustomer(customer) => (Some(customer.uuid()), None),
        Belongs::ToSite(site) => (None, Some(site.uuid())),
    };
    Ok(create!(
        unit,
        new.id.uuid(),
        hash,
        "SELECT body_sha256 FROM contact WHERE id = $1",
        sqlx::query!(
            "INSERT INTO contact (id, customer_id, site_id, name, phone, body_sha256, created_at)
             VALUES ($1, $2, $3, $4, $5, $6, $7) ON CONFLICT (id) DO NOTHING",
            new.id.uuid(),
            customer,
            site,
            new.name.as_str(),
            new.phone.as_ref().map(Name::as_str),
            hash,
            now,
        )
    ))
}

/// Writes name and phone if the version is still `version`; returns whether it was.
pub async fn update(unit: &mut UnitOfWork, contact: &Contact, version: i64) -> Result<bool, StoreError> {
    let updated = sqlx::query!(
        "UPDATE contact SET name = $3, phone = $4, version = version + 1
         WHERE id = $1 AND version = $2 AND erased_at IS NULL",
        contact.id.uuid(),
        version,
        contact.name.as_ref().map(Name::as_str),
        contact.phone.as_ref().map(Name::as_str),
    )
    .execute(unit.connection())
    .await?;
    Ok(updated.rows_affected() == 1)
}

/// Takes name and phone out, and what could tell them: the hash of the body that the contact was made
/// with, and the answers that are remembered for repeated requests. Returns whether there was anything to
/// take out.
pub async fn erase(unit: &mut UnitOfWork, id: ContactId) -> Result<bool, StoreError> {
    let now = unit.now().instant();
    let erased = sqlx::query!(
        r"UPDATE contact SET name = NULL, phone = NULL, erased_at = $2, body_sha256 = '\x', version = version + 1
          WHERE id = $1 AND erased_at IS NULL",
        id.uuid(),
        now
    )
    .execute(unit.connection())
    .await?;
    sqlx::query!(
        "DELETE FROM idempotency WHERE operation IN ('create_contact', 'update_contact')
             AND position(convert_to($1, 'UTF8') IN body) > 0",
        id.to_string()
    )
    .execute(unit.connection())
    .await?;
    Ok(erased.rows_affected() == 1)
}

pub async fn get(unit: &mut UnitOfWork, id: ContactId) -> Result<Option<Contact>, StoreError> {
    sqlx::query_as!(
        Row,
        "SELECT id, customer_id, site_id, name, phone, erased_at, version, created_at FROM contact WHERE id = $1",
        id.uuid()
    )
    .fetch_optional(unit.connection())
    .await?
    .map(Contact::try_from)
    .readable()
}

/// One contact; for a technician those of the kitchens (and their customers) that he is sent to.
pub async fn find(
    database: &Database,
    scope: &ReadScope,
    id: ContactId,
) -> Result<Option<Contact>, StoreError> {
    sqlx::query_as!(
        Row,
        "SELECT id, customer_id, site_id, name, phone, erased_at, version, created_at FROM contact
         WHERE id = $1 AND ($2::uuid IS NULL OR EXISTS (SELECT FROM assignment WHERE assignment.person_id = $2
             AND (assignment.site_id = contact.site_id OR assignment.customer_id = contact.customer_id)))",
        id.uuid(),
        scope.person()
    )
    .fetch_optional(database.pool())
    .await?
    .map(Contact::try_from)
    .readable()
}

/// Contacts of a customer or a kitchen, or whose name contains `search` or whose phone has its digits.
pub async fn list(
    database: &Database,
    customer: Option<CustomerId>,
    site: Option<SiteId>,
    search: Option<&str>,
    request: &PageRequest,
) -> Result<Page<Contact>, StoreError> {
    let digits = search.and_then(phone_digits);
    let rows = list!(
        Row,
        request,
        database.planned_for_each_use(),
        "SELECT id, customer_id, site_id, name, phone, erased_at, version, created_at FROM contact
         WHERE ($1::uuid IS NULL OR customer_id = $1) AND ($2::uuid IS NULL OR site_id = $2)
             AND ($3::text IS NULL OR lower(name) LIKE lower($3) OR phone_digits LIKE $4)",
        ["$5", "$6", "$7"],
        customer.map(CustomerId::uuid),
        site.map(SiteId::uuid),
        search.map(containing),
        digits.as_deref().map(containing),
    );
    let items = rows.into_iter().map(Contact::try_from);
    Ok(request.page(items, |contact: &Contact| Position {
        created_at: contact.created_at.instant(),
        id: contact.id.uuid(),
    }))
}

/// What of a search is looked for in phones: four digits or more. A number is written with its country, with
/// a leading 0, or without either; its last eight digits are the same each time.
pub(crate) fn phone_digits(search: &str) -> Option<String> {
    let is_phone = search.chars().all(|c| c.is_ascii_digit() || " +-/().".contains(c));
    let digits: String = search.chars().filter(char::is_ascii_digit).collect();
    (is_phone && digits.len() >= 4).then(|| digits[digits.len().saturating_sub(8)..].to_owned())
}

#[cfg(test)]
mod tests {
    use super::phone_digits;

    #[test]
    fn a_phone_is_looked_for_by_its_last_digits() {
        assert_eq!(phone_digits("+351 (21) 555-0123").as_deref(), Some("15550123"));
        assert_eq!(phone_digits("0123").as_deref(), Some("0123"));
        assert_eq!(phone_digits("123"), None);
        assert_eq!(phone_digits("Quay 1234"), None, "a name with a number is no phone");
    }
}
