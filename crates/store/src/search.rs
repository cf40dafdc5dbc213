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
                WHERE lower(a.serial) LIKE lower($5) || '%' ORDER BY a.serial LIMIT $4)
               UNION ALL
               (SELECT 3, 'site', s.id, s.name, s.place, s.id FROM site s
                WHERE strpos(lower(s.name), lower($1)) > 0 OR strpos(lower(s.place), lower($1)) > 0
                    OR s.external_id = $1 ORDER BY s.name LIMIT $4)
               UNION ALL
               (SELECT 4, 'contact', c.id, c.name || coalesce(' · ' || c.phone, ''),
                    coalesce(site.name, customer.name), c.site_id
                FROM contact c LEFT JOIN site ON site.id = c.site_id LEFT JOIN customer ON customer.id = c.customer_id
                WHERE strpos(lower(c.name), lower($1)) > 0
                    OR strpos(c.phone_digits, $2) > 0
                ORDER BY c.name LIMIT $4)
               UNION ALL
               (SELECT 5, 'customer', c.id, c.name, coalesce(c.external_id, ''), NULL FROM customer c
                WHERE strpos(lower(c.name), lower($1)) > 0 OR c.external_id = $1 ORDER BY c.name LIMIT $4)
           ) found ORDER BY rank, title"#,
        words,
        phone_digits(words),
        number,
        MOST_OF_A_KIND,
        words.replace('\\', "\\\\").replace('%', "\\%").replace('_', "\\_"),
    )
    .fetch_all(database.pool())
    .await?;
    Ok(found)
}
