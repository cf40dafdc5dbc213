//! What came back link by link, and the causes behind it, in words.

use application::repeats::{Chain, KitchenCause, Occurrence};
use chrono::TimeDelta;
use domain::time::Timestamp;

use super::against::rarity;
use crate::when;

/// Failures of one position of one machine.
#[derive(Debug, Clone)]
pub(crate) struct ChainRow {
    pub machine: String,
    pub position: String,
    pub times: String,
    pub links: Vec<Link>,
}

#[derive(Debug, Clone)]
pub(crate) struct Link {
    pub number: i64,
    pub text: String,
}

/// A cause beside the other kitchens'.
#[derive(Debug, Clone)]
pub(crate) struct CauseRow {
    pub cause: String,
    pub counts: String,
    pub says: String,
    pub stands_out: bool,
}

impl ChainRow {
    pub fn of(chain: &Chain, now: Timestamp) -> Self {
        let first = chain.links.first();
        let mut before = [None].into_iter().chain(chain.between().map(Some));
        let link = |occurrence: &Occurrence| Link {
            number: occurrence.number,
            text: text(occurrence, before.next().flatten(), now),
        };
        Self {
            machine: first.map(|link| link.machine.clone()).unwrap_or_default(),
            position: wording::term("position", chain.position.key()).into_owned(),
            times: wording::say_with("chains-times", &[("n", chain.links.len().into())]),
            links: chain.links.iter().map(link).collect(),
        }
    }
}

/// When, how long after the last repair (`before`; none of the first), and what was done by whom.
fn text(occurrence: &Occurrence, before: Option<Option<TimeDelta>>, now: Timestamp) -> String {
    let word = |list: &str, key: &str| wording::term(list, key).into_owned();
    let mut told: Vec<String> = occurrence.cause.iter().map(|cause| word("cause", cause.as_str())).collect();
    told.extend(occurrence.actions.iter().map(|action| word("action", action.as_str())));
    told.extend(occurrence.parts.iter().cloned());
    if told.is_empty() {
        told.push(wording::say("chains-nothing-done"));
    }
    told.extend(occurrence.people.iter().cloned());
    let at = when::day(occurrence.received_at.instant().date_naive(), now);
    let mut variables = vec![("at", at.into()), ("done", told.join(", ").into())];
    match before {
        None => wording::say_with("chains-link", &variables),
        Some(None) => wording::say_with("chains-unrestored", &variables),
        Some(Some(time)) => {
            variables.push(("span", when::span(time).into()));
            wording::say_with("chains-after", &variables)
        }
    }
}

impl CauseRow {
    pub fn of(found: &KitchenCause) -> Self {
        let standing = &found.standing;
        let variables = [
            ("n", standing.count.here.into()),
            ("all", standing.of_here.into()),
            ("machines", found.machines.into()),
            ("elsewhere", standing.count.elsewhere.into()),
            ("others", standing.of_elsewhere.into()),
        ];
        let says = match standing.chance {
            None => wording::say("causes-alone"),
            Some(chance) if standing.stands_out => {
                wording::say_with("causes-stands-out", &[("rarity", rarity(chance).into())])
            }
            Some(_) => wording::say("causes-may-be-chance"),
        };
        Self {
            cause: wording::term("cause", standing.count.cause.as_str()).into_owned(),
            counts: wording::say_with("causes-counts", &variables),
            says,
            stands_out: standing.stands_out,
        }
    }
}
