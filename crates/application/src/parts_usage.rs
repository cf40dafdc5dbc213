//! What was fitted, in number and in money.

use store::parts_usage::{MOST_GROUPS, left_out, usage};
use store::time_zone;

pub use store::parts_usage::{UsageLeftOut, UsageQuestion, UsageRow};

use crate::{Application, Caller, Question, Refusal};

/// The parts that were fitted.
#[derive(Debug, Clone)]
pub struct GetPartsUsage(pub UsageQuestion);

#[derive(Debug)]
pub enum PartsUsage {
    Figures {
        rows: Vec<UsageRow>,
        left_out: UsageLeftOut,
    },
    /// There would be more groups than anybody reads.
    TooMany {
        most: u32,
    },
    /// The time zone is not in the IANA database.
    NoSuchTimeZone,
}

impl Question for GetPartsUsage {
    const NAME: &'static str = "get_parts_usage";
    type Answer = PartsUsage;

    async fn answer(self, application: &Application, _: &Caller) -> Result<PartsUsage, Refusal> {
        let (database, question) = (application.database(), self.0);
        if let Some(zone) = &question.time_zone
            && !time_zone::is_known_to(database, zone.as_str()).await?
        {
            return Ok(PartsUsage::NoSuchTimeZone);
        }
        let rows = usage(database, &question).await?;
        if !has_room(rows.len()) {
            return Ok(PartsUsage::TooMany { most: MOST_GROUPS });
        }
        Ok(PartsUsage::Figures { rows, left_out: left_out(database, &question).await? })
    }
}

/// A report that was cut short would look whole.
fn has_room(groups: usize) -> bool {
    groups <= MOST_GROUPS as usize
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_report_without_room_is_refused_and_not_cut_short() {
        assert!(has_room(MOST_GROUPS as usize));
        assert!(!has_room(MOST_GROUPS as usize + 1));
    }
}
