//! Finds what a caller on the phone can name: a kitchen, a person, a number, a serial.

use uuid::Uuid;

use crate::contact::phone_digits;
use crate::{Database, StoreError};

/// Something that was found.
#[derive(Debug, Clone)]
pub struct Found {
    /// `customer`, `site`, `contact`, `appliance`, `work_order`.
    pub kind: String,
    pub id: Uuid,
    pub title: String,
    /// Where it belongs.
    pub of: String,
    pub site_id: Option<Uuid>,
}

const MOST_OF_A_KIND: i64 = 20;

/// Names and places that contain the words, phones that contain the digits, serials that begin with them,
/// work orders of the number.
pub async fn find(database: &Database, words: &str) -> Result<Vec<Found>, StoreError> {
    let number: Option<i64> = words.trim().trim_start_matches('#').parse().ok();
    let found = sqlx::query_as!(
        Found,
        r#"SELECT kind AS "kind!", id AS "id!", title AS "title!", of AS "of!", site_id FROM (
               (SELECT 1 AS rank, 'work_order' AS kind, o.id, '#' || o.number AS title, site.name AS of,
                    o.site_id FROM work_order o JOIN site ON site.id = o.site_id
                WHERE o.number = $3 LIMIT $4)
               UNION ALL
               (SELECT 2, 'appliance', a.id, a.position_label || coalesce(' · ' || a.serial, ''), site.name, a.site_id
                FROM appliance a JOIN site ON site.id = a.site_id
                WHERE lower(a.serial) LIKE lower($5) ORDER BY a.serial LIMIT $4)
               UNION ALL
               (SELECT 3, 'site', s.id, s.name, s.place, s.id FROM site s
                WHERE lower(s.name) LIKE lower($6) OR lower(s.place) LIKE lower($6) OR s.external_id = $1
                ORDER BY s.name LIMIT $4)
               UNION ALL
               (SELECT 4, 'contact', c.id, c.name || coalesce(' · ' || c.phone, ''),
                    coalesce(site.name, customer.name), c.site_id
                FROM contact c LEFT JOIN site ON site.id = c.site_id LEFT JOIN customer ON customer.id = c.customer_id
                WHERE lower(c.name) LIKE lower($6) OR c.phone_digits LIKE $2
                ORDER BY c.name LIMIT $4)
               UNION ALL
               (SELECT 5, 'customer', c.id, c.name, coalesce(c.external_id, ''), NULL FROM customer c
                WHERE lower(c.name) LIKE lower($6) OR c.external_id = $1 ORDER BY c.name LIMIT $4)
           ) found ORDER BY rank, title"#,
        words,
        phone_digits(words).as_deref().map(containing),
        number,
        MOST_OF_A_KIND,
        beginning(words),
        containing(words),
    )
    .fetch_all(database.planned_for_each_use())
    .await?;
    Ok(found)
}

/// The pattern of `LIKE` for texts that contain the words. Only a pattern is looked for by trigrams (migration 0040).
pub(crate) fn containing(words: &str) -> String {
    format!("%{}", beginning(words))
}

/// The pattern of `LIKE` for texts that begin with the words.
pub(crate) fn beginning(words: &str) -> String {
    let mut pattern = String::with_capacity(words.len() + 2);
    for letter in words.chars() {
        if matches!(letter, '\\' | '%' | '_') {
            pattern.push('\\');
        }
        pattern.push(letter);
    }
    pattern.push('%');
    pattern
}

/// Whether names are looked for by trigrams: the extension is there, and its indexes are. Makes them where the extension can
/// be had by now.
pub async fn prepare(database: &Database) -> Result<bool, StoreError> {
    let by_trigrams = sqlx::query_scalar!(r#"SELECT search_by_trigrams() AS "is_there!""#);
    Ok(by_trigrams.fetch_one(database.pool()).await?)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_typed_is_looked_for_as_it_is() {
        assert_eq!(beginning("WW-1_2"), "WW-1\\_2%");
        assert_eq!(containing("100 % \\"), "%100 \\% \\\\%");
    }
}
