//! A write and everything that must be true with it: its audit rows and its events, in one transaction.

use domain::id::{ApplianceId, PersonId, SiteId, WorkOrderId};
use domain::time::Timestamp;
use sqlx::{PgConnection, Postgres, Transaction};
use uuid::Uuid;

use crate::error::StoreError;

/// Makes identifiers. Passed in, so that a test can foresee them.
pub trait IdSource: Send + Sync + std::fmt::Debug {
    /// A UUID version 7 of this instant.
    fn next(&self, now: Timestamp) -> Uuid;
}

/// On whose behalf, why and when a unit of work is done.
#[derive(Debug, Clone)]
pub struct Authority {
    pub person: Option<PersonId>,
    pub use_case: &'static str,
    pub request_id: String,
    pub now: Timestamp,
    pub ids: std::sync::Arc<dyn IdSource>,
}

/// One thing that changed: becomes an audit row and an event of the change feed.
#[derive(Debug, Clone)]
pub struct Change {
    /// What happened, such as `customer.created`.
    pub kind: &'static str,
    pub subject: Uuid,
    pub site: Option<SiteId>,
    pub appliance: Option<ApplianceId>,
    pub work_order: Option<WorkOrderId>,
    pub changed_fields: Vec<&'static str>,
    pub why: Option<String>,
}

impl Change {
    pub fn of(kind: &'static str, subject: impl Into<Uuid>) -> Self {
        Self {
            kind,
            subject: subject.into(),
            site: None,
            appliance: None,
            work_order: None,
            changed_fields: Vec::new(),
            why: None,
        }
    }

    #[must_use]
    pub fn at_site(mut self, site: SiteId) -> Self {
        self.site = Some(site);
        self
    }

    #[must_use]
    pub fn on_appliance(mut self, appliance: Option<ApplianceId>) -> Self {
        self.appliance = appliance;
        self
    }

    #[must_use]
    pub fn on_order(mut self, work_order: Option<WorkOrderId>) -> Self {
        self.work_order = work_order;
        self
    }

    #[must_use]
    pub fn fields(mut self, fields: Vec<&'static str>) -> Self {
        self.changed_fields = fields;
        self
    }

    #[must_use]
    pub fn because(mut self, why: impl Into<String>) -> Self {
        self.why = Some(why.into());
        self
    }
}

/// An open transaction that writes its audit rows and events when it is committed. Dropped, it is undone.
#[derive(Debug)]
pub struct UnitOfWork {
    transaction: Transaction<'static, Postgres>,
    authority: Authority,
    changes: Vec<Change>,
}

impl UnitOfWork {
    pub(crate) fn new(transaction: Transaction<'static, Postgres>, authority: Authority) -> Self {
        Self { transaction, authority, changes: Vec::new() }
    }

    pub fn now(&self) -> Timestamp {
        self.authority.now
    }

    pub fn next_id(&self) -> Uuid {
        self.authority.ids.next(self.authority.now)
    }

    /// Notes what changed; written at commit.
    pub fn record(&mut self, change: Change) {
        self.changes.push(change);
    }

    pub(crate) fn connection(&mut self) -> &mut PgConnection {
        &mut self.transaction
    }

    /// Writes audit and events, and makes all of it lasting.
    pub async fn commit(mut self) -> Result<(), StoreError> {
        self.write_trail().await?;
        self.transaction.commit().await?;
        Ok(())
    }

    async fn write_trail(&mut self) -> Result<(), StoreError> {
        if self.changes.is_empty() {
            return Ok(());
        }
        let changes = std::mem::take(&mut self.changes);
        let now = self.now().instant();
        let ids: Vec<Uuid> = changes.iter().map(|_| self.next_id()).collect();
        let kinds: Vec<String> = changes.iter().map(|change| change.kind.to_owned()).collect();
        let subjects: Vec<Uuid> = changes.iter().map(|change| change.subject).collect();
        let sites: Vec<Option<Uuid>> = changes.iter().map(|change| change.site.map(SiteId::uuid)).collect();
        let appliances: Vec<Option<Uuid>> =
            changes.iter().map(|change| change.appliance.map(ApplianceId::uuid)).collect();
        let orders: Vec<Option<Uuid>> =
            changes.iter().map(|change| change.work_order.map(WorkOrderId::uuid)).collect();
        let whys: Vec<Option<String>> = changes.iter().map(|change| change.why.clone()).collect();
        // Postgres has no arrays of arrays of unequal length; names have no commas.
        let fields: Vec<String> = changes.iter().map(|change| change.changed_fields.join(",")).collect();
        let person = self.authority.person.map(PersonId::uuid);
        let (use_case, request_id) = (self.authority.use_case, self.authority.request_id.clone());
        sqlx::query!(
            r#"WITH changed AS (
                   SELECT * FROM UNNEST($2::uuid[], $3::text[], $4::uuid[], $5::uuid[], $6::uuid[], $7::uuid[],
                       $8::text[], $9::text[])
                       AS c (id, kind, subject, site_id, appliance_id, work_order_id, why, fields)
               ), noted AS (
                   INSERT INTO audit (at, id, person_id, use_case, subject, why, changed_fields, request_id)
                   SELECT $1, id, $10, $11, subject, why, string_to_array(fields, ','), $12 FROM changed
               )
               INSERT INTO event (at, kind, subject, site_id, appliance_id, work_order_id)
               SELECT $1, kind, subject, site_id, appliance_id, work_order_id FROM changed"#,
            now,
            &ids,
            &kinds,
            &subjects,
            &sites as &[Option<Uuid>],
            &appliances as &[Option<Uuid>],
            &orders as &[Option<Uuid>],
            &whys as &[Option<String>],
            &fields,
            person,
            use_case,
            request_id,
        )
        .execute(self.connection())
        .await?;
        Ok(())
    }
}
