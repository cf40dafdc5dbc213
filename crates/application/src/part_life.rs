//! How long do parts live, and when is one replaced before it fails?

mod cumulative;
mod days;
mod groups;

pub use cumulative::{FailuresOfPlaces, LEAST_PLACES};
pub use days::{WatchedDays, WatchedDaysFault};
pub use domain::reliability::against_others::AgainstOthers;
pub use domain::reliability::age_replacement::{AgeReplacement, ExchangeCosts, NoReplacement};
pub use domain::reliability::study::Study;
pub use groups::{GroupBy, GroupOf};

use domain::id::PartId;
use domain::reliability::lives::NotCounted;
use domain::reliability::study::study;
use domain::text::Key;
use domain::time::Timestamp;
use store::part_life::{self, MOST_LIVES, WhichParts};

use crate::{Application, Caller, Question, Refusal};

/// Confidence of all limits.
pub const CONFIDENCE: f64 = 0.95;
/// Groups that are told apart; those with fewer lives are counted.
pub const MOST_GROUPS: usize = 12;

/// The lives of the parts of a number or of a position, in groups.
#[derive(Debug, Clone)]
pub struct GetPartLife {
    /// At least one of the two.
    pub part: Option<PartId>,
    pub position: Option<Key>,
    pub model: Option<Key>,
    pub by: GroupBy,
    pub days: WatchedDays,
    /// What an exchange costs, if it is to be said when one pays.
    pub costs: Option<ExchangeCosts>,
}

#[derive(Debug)]
pub enum PartLife {
    Lives(PartLives),
    /// Neither part nor position was named.
    OfWhat,
    /// More lives than are looked at at once.
    TooMany {
        most: u32,
    },
}

#[derive(Debug)]
pub struct PartLives {
    pub as_of: Timestamp,
    pub days: WatchedDays,
    /// With most lives first.
    pub groups: Vec<(GroupOf, Study)>,
    /// Groups beyond those told apart, and the lives in them.
    pub not_told_apart: (usize, usize),
    pub not_counted: NotCounted,
    /// Of all groups together; none where nothing failed.
    pub places: Option<FailuresOfPlaces>,
}

impl Question for GetPartLife {
    const NAME: &'static str = "get_part_life";
    type Answer = PartLife;

    async fn answer(self, application: &Application, _: &Caller) -> Result<PartLife, Refusal> {
        if self.part.is_none() && self.position.is_none() {
            return Ok(PartLife::OfWhat);
        }
        let (database, as_of) = (application.database(), application.now());
        let (from, until) = self.days.ends(as_of)?;
        let which = WhichParts { part: self.part, position: self.position, model: self.model, until };
        let parts = part_life::of(database, &which).await?;
        if parts.len() > MOST_LIVES as usize {
            return Ok(PartLife::TooMany { most: MOST_LIVES });
        }
        let places = cumulative::places(&parts);
        let lives = groups::grouped(database, parts, self.by, from, until).await?;
        let (mut told, rest) = (lives.groups, lives.not_told_apart);
        let (costs, days, not_counted) = (self.costs, self.days, lives.not_counted);
        let all: Vec<_> = told.iter_mut().map(|(_, lives)| std::mem::take(lives)).collect();
        let compute = move || (study(&all, CONFIDENCE, costs), cumulative::of_places(&places, from, until));
        let (studies, places) = application.versions().tables().compute(compute).await?;
        let internal = |error: &dyn std::error::Error| Refusal::Internal(error.to_string());
        let studies = studies.map_err(|error| internal(&error))?;
        let places = places.map_err(|error| internal(&error))?;
        let groups = told.into_iter().zip(studies).filter_map(|((of, _), study)| Some((of, study?)));
        Ok(PartLife::Lives(PartLives {
            as_of,
            days,
            groups: groups.collect(),
            not_told_apart: rest,
            not_counted,
            places,
        }))
    }
}
