use std::collections::VecDeque;
use std::convert::Infallible;
use std::time::{Duration, Instant};

use application::changes::{FollowChanges, ListChanges, Stand};
use application::news::News;
use application::{Caller, token};
use axum::extract::State;
use axum::http::HeaderMap;
use axum::response::sse::{Event, KeepAlive, Sse};
use axum::response::{IntoResponse, Response};
use futures_util::stream;
use serde::Deserialize;
use utoipa::IntoParams;

use super::cursor::{open, seal};
use super::followers::Following;
use super::list::{ChangeItem, LIMIT_MAXIMUM};
use crate::extract::Query;
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

#[derive(Debug, Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct FollowQuery {
    /// Where to go on, as the header `Last-Event-ID` that a browser sends by itself; the header goes first.
    #[param(max_length = 1000, nullable = false)]
    cursor: Option<String>,
    /// So many seconds the stream is kept open, waiting for what happens next; a larger number is taken as 600. Without it
    /// the stream tells what there is and ends.
    #[param(minimum = 0, maximum = 1_000_000, nullable = false)]
    wait: Option<u64>,
}

const LAST_EVENT_ID: &str = "last-event-id";
const LONGEST_WAIT: u64 = 600;
/// Who is to come again does so after a moment.
const COME_AGAIN: Duration = Duration::from_secs(3);
/// A line that says nothing, so that a proxy does not take the stream for dead.
const SIGN_OF_LIFE: Duration = Duration::from_secs(20);
/// At the latest so often it is asked whether the caller may still read.
const ASKED_EVERY: Duration = Duration::from_secs(30);

/// What happens, as it happens
///
/// Server-sent events. `stand`: the stream begins here, nothing is told yet. `change`: what an item of `GET /v1/changes` is.
/// `start_over`: something may be missing, read everything anew. The id of an event is the cursor to go on from; what came
/// after the last id is told again. The stream ends when its time is over, when the token does not hold any more, and when
/// the service stops: come again.
#[utoipa::path(get, path = "/v1/events", tag = "changes",
    params(FollowQuery, ("Last-Event-ID" = Option<String>, Header, max_length = 1000, description = "The last id that was read")),
    responses((status = 200, description = "The stream", body = schema::PlainText, content_type = "text/event-stream")))]
pub async fn follow_changes(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    headers: HeaderMap,
    Query(query): Query<FollowQuery>,
) -> Result<Response, Problem> {
    let last = headers.get(LAST_EVENT_ID).map(|id| id.to_str().unwrap_or("?"));
    let since = match (last.filter(|id| !id.is_empty()), query.cursor.as_deref()) {
        (Some(id), _) => Some(open(&state, "Last-Event-ID", id)?),
        (None, Some(cursor)) => Some(open(&state, "cursor", cursor)?),
        (None, None) => None,
    };
    let wait = Duration::from_secs(query.wait.unwrap_or(0).min(LONGEST_WAIT));
    let following = state.followers.begin(caller.principal.person)?;
    let mut follower = Follower {
        _following: following,
        news: state.application.news(),
        state,
        caller,
        stand: since,
        until: Instant::now() + wait,
        told: VecDeque::new(),
    };
    // What is refused is refused with a status; later faults end the stream.
    follower.look().await?;
    let stream = stream::unfold(follower, |mut follower| async move {
        let event = follower.next().await?;
        Some((Ok::<_, Infallible>(event), follower))
    });
    Ok(Sse::new(stream).keep_alive(KeepAlive::new().interval(SIGN_OF_LIFE)).into_response())
}

/// One reader of the stream.
struct Follower {
    _following: Following,
    state: ApiState,
    caller: Caller,
    news: News,
    stand: Option<Stand>,
    until: Instant,
    /// Read, and not told yet.
    told: VecDeque<Event>,
}

impl Follower {
    /// The next event; none where the stream ends.
    async fn next(&mut self) -> Option<Event> {
        while self.told.is_empty() {
            self.wait().await?;
            self.look().await.inspect_err(|problem| tracing::debug!(?problem, "a stream ends")).ok()?;
        }
        self.told.pop_front()
    }

    /// Waits for something to happen; none where the stream has to end.
    async fn wait(&mut self) -> Option<()> {
        loop {
            let left = self.until.saturating_duration_since(Instant::now());
            if left.is_zero() || self.state.draining.is_on() {
                return None;
            }
            let has_happened = tokio::select! {
                () = self.news.happens() => true,
                () = self.state.draining.begun() => false,
                () = tokio::time::sleep(left.min(ASKED_EVERY)) => false,
            };
            if !token::still_holds(&self.state.application, &self.caller.principal).await.ok()? {
                return None;
            }
            if has_happened {
                return Some(());
            }
        }
    }

    /// Reads what happened since the reader's stand.
    async fn look(&mut self) -> Result<(), Problem> {
        loop {
            let question = FollowChanges(ListChanges { since: self.stand, limit: LIMIT_MAXIMUM });
            let changes = self.state.application.ask(&self.caller, question).await?;
            let id = seal(&self.state, changes.next)?;
            let is_new = self.stand.is_none();
            self.stand = Some(changes.next);
            if is_new || changes.start_over {
                let kind = if is_new { "stand" } else { "start_over" };
                self.told.push_back(Event::default().event(kind).id(&id).retry(COME_AGAIN).data("{}"));
            }
            let last = changes.events.len();
            for (number, event) in changes.events.into_iter().enumerate() {
                let event = told(event.into())?;
                self.told.push_back(if number + 1 == last { event.id(&id) } else { event });
            }
            if !changes.has_more {
                return Ok(());
            }
        }
    }
}

fn told(change: ChangeItem) -> Result<Event, Problem> {
    Event::default().event("change").json_data(change).map_err(|error| {
        tracing::error!(%error, "a change cannot be written as JSON");
        Problem::internal()
    })
}
