//! What happened: who did what, when and why.

use chrono::TimeDelta;
use domain::time::Timestamp;
use store::trail::{self, Sought};

pub use store::trail::Deed;

use crate::{Application, Caller, Question, Refusal};

/// What was done up to a time, newest first, as far back as [`REACH`].
#[derive(Debug, Clone)]
pub struct SeeHappenings {
    /// Of whoever did it, of what was done, of the reason; or an order's number.
    pub words: String,
    pub until: Option<Timestamp>,
}

/// So far back one look reaches; the next goes on from there.
pub const REACH: TimeDelta = TimeDelta::days(31);
/// So much is shown at once.
const MOST: i64 = 200;

#[derive(Debug)]
pub struct Happenings {
    pub now: Timestamp,
    pub deeds: Vec<Deed>,
    /// From when it was looked for.
    pub from: Timestamp,
    /// Where to look on.
    pub earlier: Timestamp,
}

impl Question for SeeHappenings {
    const NAME: &'static str = "see_happenings";
    type Answer = Happenings;

    async fn answer(self, application: &Application, _: &Caller) -> Result<Happenings, Refusal> {
        let now = application.now();
        // What is done at this very moment is among it.
        let soon = Timestamp::new(now.instant() + TimeDelta::seconds(1)).unwrap_or(now);
        let until = self.until.unwrap_or(soon);
        let from = Timestamp::new(until.instant() - REACH).unwrap_or(until);
        let words = self.words.replace('\0', "");
        let words = Some(words.trim()).filter(|words| !words.is_empty());
        let order = words.and_then(|words| words.trim_start_matches('#').parse().ok());
        let sought = Sought { words, order, from, until };
        let deeds = trail::find(application.database(), &sought, MOST).await?;
        let is_cut = i64::try_from(deeds.len()).is_ok_and(|count| count >= MOST);
        let earlier = if is_cut { deeds.last().map_or(from, |deed| deed.at) } else { from };
        Ok(Happenings { now, deeds, from, earlier })
    }
}
