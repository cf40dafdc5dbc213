//! The rules that the house keeps, as they stand: by what a promise runs, when a call is a repeat, how long a session lasts.

use chrono::TimeDelta;
use domain::procedure::LONGEST_DEFEAT_MINUTES;
use domain::work::{REPEAT_WITHIN_DAYS, Urgency};

use crate::sign_in::{LIFE, REST, SHORTEST_PASSWORD};
use crate::today::promised_within;
use crate::{Application, Caller, Question, Refusal};

/// What a rule says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rule {
    /// Somebody stands there within so long of a call of this urgency; none where nothing is promised.
    Promise(Urgency, Option<TimeDelta>),
    /// A call about the same machine within so many days is a repeat.
    RepeatWithinDays(i64),
    /// No procedure may let an interlock be defeated for longer.
    LongestDefeatMinutes(u32),
    /// A session that rests so long ends.
    SessionRests(TimeDelta),
    /// And one so old, however busy.
    SessionLasts(TimeDelta),
    ShortestPassword(usize),
}

/// All rules; none of them is the company's to set yet.
#[derive(Debug, Clone, Copy)]
pub struct SeeHouseRules;

impl Question for SeeHouseRules {
    const NAME: &'static str = "see_house_rules";
    type Answer = Vec<Rule>;

    async fn answer(self, _: &Application, _: &Caller) -> Result<Vec<Rule>, Refusal> {
        let promises = Urgency::ALL.iter().map(|urgency| Rule::Promise(*urgency, promised_within(*urgency)));
        let others = [
            Rule::RepeatWithinDays(REPEAT_WITHIN_DAYS),
            Rule::LongestDefeatMinutes(LONGEST_DEFEAT_MINUTES),
            Rule::SessionRests(REST),
            Rule::SessionLasts(LIFE),
            Rule::ShortestPassword(SHORTEST_PASSWORD),
        ];
        Ok(promises.chain(others).collect())
    }
}
