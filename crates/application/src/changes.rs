//! What changed since somebody last looked.

use domain::id::PersonId;
use store::feed::{self, Feed};

pub use store::feed::{Event, Place};

use crate::{Application, Caller, Question, Refusal};

/// What the caller may see of what happened after a place.
#[derive(Debug, Clone)]
pub struct ListChanges {
    /// Where the caller stood; without, the feed begins at its end.
    pub since: Option<Stand>,
    pub limit: i64,
}

/// Where a reader stands: all that he could see up to there was read.
#[derive(Debug, Clone, Copy)]
pub struct Stand {
    pub place: Place,
    /// Who saw a person's events alone; none for who sees all.
    pub only_of: Option<PersonId>,
}

#[derive(Debug)]
pub struct Changes {
    pub events: Vec<Event>,
    /// Where to read on.
    pub next: Stand,
    pub has_more: bool,
    /// What the reader has may miss something: he reads all of it anew.
    pub start_over: bool,
}

impl Question for ListChanges {
    const NAME: &'static str = "list_changes";
    type Answer = Changes;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<Changes, Refusal> {
        let (database, scope) = (application.database(), caller.read_scope());
        let only_of = scope.only_of();
        let sees_the_same = self.since.is_none_or(|stand| stand.only_of == only_of);
        let standing = feed::stand(database, self.since.map(|stand| stand.place)).await?;
        let begin_at_end = |start_over| Changes {
            events: Vec::new(),
            next: Stand { place: standing.end, only_of },
            has_more: false,
            start_over,
        };
        let Some(Stand { place: since, .. }) = self.since else { return Ok(begin_at_end(false)) };
        if !(standing.holds && sees_the_same) {
            return Ok(begin_at_end(true));
        }
        let Feed { events, place, has_more } = if since.is_beyond(&standing.end) {
            Feed { events: Vec::new(), place: since, has_more: false }
        } else {
            feed::after(database, &scope, since, standing.end, self.limit).await?
        };
        Ok(Changes { events, next: Stand { place, only_of }, has_more, start_over: false })
    }
}

/// The same, asked again and again by one who follows what happens.
#[derive(Debug, Clone)]
pub struct FollowChanges(pub ListChanges);

impl Question for FollowChanges {
    const NAME: &'static str = "follow_changes";
    type Answer = Changes;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<Changes, Refusal> {
        self.0.answer(application, caller).await
    }
}
