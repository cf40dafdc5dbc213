//! What people see for the sake of the orders that they are sent to, and the tombstones of what they lose sight of.
//!
//! Whatever may take sight from somebody notes it before ([`Sight`]) and tells of the losses after: each thing that he sees
//! no more, for no other order's sake either, is told as gone in his change feed alone.

use domain::id::{ApplianceId, WorkOrderId};
use uuid::Uuid;

use crate::{StoreError, UnitOfWork};

/// Who sees what of something, before it changes.
#[derive(Debug)]
#[must_use = "what is lost by the change has to be told"]
pub struct Sight {
    people: Vec<Uuid>,
    nouns: Vec<String>,
    subjects: Vec<Uuid>,
}

/// What is seen for this order's sake.
pub async fn of_order(unit: &mut UnitOfWork, order: WorkOrderId) -> Result<Sight, StoreError> {
    let seen = sqlx::query!(
        r#"SELECT DISTINCT person_id AS "person!", noun AS "noun!", subject AS "subject!" FROM sight
           WHERE work_order_id = $1"#,
        order.uuid()
    )
    .fetch_all(unit.connection())
    .await?;
    Ok(seen.into_iter().map(|seen| (seen.person, seen.noun, seen.subject)).collect())
}

/// Who sees this machine.
pub async fn of_machine(unit: &mut UnitOfWork, appliance: ApplianceId) -> Result<Sight, StoreError> {
    let people = sqlx::query_scalar!(
        r#"SELECT DISTINCT person_id AS "person!" FROM sight WHERE noun = 'appliance' AND subject = $1"#,
        appliance.uuid()
    )
    .fetch_all(unit.connection())
    .await?;
    Ok(people.into_iter().map(|person| (person, "appliance".to_owned(), appliance.uuid())).collect())
}

impl FromIterator<(Uuid, String, Uuid)> for Sight {
    fn from_iter<I: IntoIterator<Item = (Uuid, String, Uuid)>>(seen: I) -> Self {
        let mut sight = Self { people: Vec::new(), nouns: Vec::new(), subjects: Vec::new() };
        for (person, noun, subject) in seen {
            sight.people.push(person);
            sight.nouns.push(noun);
            sight.subjects.push(subject);
        }
        sight
    }
}

impl Sight {
    /// Writes a tombstone for each thing that somebody saw and sees no more.
    pub async fn tell_losses(&self, unit: &mut UnitOfWork) -> Result<(), StoreError> {
        if self.people.is_empty() {
            return Ok(());
        }
        // Two that take the last two orders of one kitchen from somebody at once: the second sees that the first did.
        sqlx::query!(
            "SELECT pg_advisory_xact_lock(hashtextextended('sight ' || person, 0))
             FROM (SELECT DISTINCT person FROM UNNEST($1::uuid[]) AS p (person) ORDER BY person) AS p",
            &self.people
        )
        .fetch_all(unit.connection())
        .await?;
        let now = unit.now().instant();
        sqlx::query!(
            "INSERT INTO event (at, kind, subject, person_id)
             SELECT $1, noun || '.out_of_sight', subject, person
             FROM UNNEST($2::uuid[], $3::text[], $4::uuid[]) AS seen (person, noun, subject)
             WHERE NOT EXISTS (SELECT FROM sight
                 WHERE sight.person_id = seen.person AND sight.noun = seen.noun AND sight.subject = seen.subject)",
            now,
            &self.people,
            &self.nouns,
            &self.subjects
        )
        .execute(unit.connection())
        .await?;
        Ok(())
    }
}
