//! What one caller, and all together, may ask of the service.

use std::num::NonZeroU32;
use std::sync::Arc;

use axum::extract::{Request, State};
use axum::http::{HeaderMap, HeaderName, HeaderValue, header};
use axum::middleware::Next;
use axum::response::Response;
use domain::id::PersonId;
use governor::clock::{Clock, DefaultClock};
use governor::middleware::StateInformationMiddleware;
use governor::state::keyed::DefaultKeyedStateStore;
use governor::{Quota, RateLimiter};
use tokio::sync::Semaphore;

use crate::problem::{Kind, Problem};

type Limiter =
    RateLimiter<PersonId, DefaultKeyedStateStore<PersonId>, DefaultClock, StateInformationMiddleware>;

/// Requests a minute of each person or program (generic cell rate algorithm).
#[derive(Clone)]
pub struct RateLimit {
    limiter: Arc<Limiter>,
    per_minute: NonZeroU32,
}

impl std::fmt::Debug for RateLimit {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(formatter, "RateLimit({} a minute)", self.per_minute)
    }
}

/// What a request left of its caller's share.
pub struct Spent {
    per_minute: NonZeroU32,
    remaining: u32,
}

const RATE_LIMIT: HeaderName = HeaderName::from_static("ratelimit");
const RATE_LIMIT_POLICY: HeaderName = HeaderName::from_static("ratelimit-policy");

impl RateLimit {
    pub fn new(per_minute: NonZeroU32) -> Self {
        let limiter =
            RateLimiter::keyed(Quota::per_minute(per_minute)).with_middleware::<StateInformationMiddleware>();
        Self { limiter: Arc::new(limiter), per_minute }
    }

    /// Takes one request of the person's share, or refuses.
    pub fn take(&self, person: PersonId) -> Result<Spent, Problem> {
        match self.limiter.check_key(&person) {
            Ok(state) => {
                Ok(Spent { per_minute: self.per_minute, remaining: state.remaining_burst_capacity() })
            }
            Err(refusal) => {
                let wait = refusal.wait_time_from(DefaultClock::default().now()).as_secs() + 1;
                let detail = format!("{} requests a minute are your share; wait {wait} s", self.per_minute);
                let mut headers = HeaderMap::new();
                Spent { per_minute: self.per_minute, remaining: 0 }.tell(&mut headers);
                let problem =
                    Problem::new(Kind::TOO_MANY, detail).with_header(header::RETRY_AFTER, wait.into());
                let pairs = headers.into_iter().filter_map(|(name, value)| Some((name?, value)));
                Err(pairs.fold(problem, |problem, (name, value)| problem.with_header(name, value)))
            }
        }
    }
}

impl Spent {
    /// The header fields of draft-ietf-httpapi-ratelimit-headers.
    pub fn tell(&self, headers: &mut HeaderMap) {
        let policy = format!("\"person\";q={};w=60", self.per_minute);
        let state = format!("\"person\";r={};t=60", self.remaining);
        for (name, text) in [(RATE_LIMIT_POLICY, policy), (RATE_LIMIT, state)] {
            if let Ok(value) = HeaderValue::from_str(&text) {
                headers.insert(name, value);
            }
        }
    }
}

/// A request's head may have at most this many header fields,
const MOST_FIELDS: usize = 100;
/// and this many bytes in their names and values.
const MOST_FIELD_BYTES: usize = 32 << 10;

/// Refuses a head that is larger than any honest one.
pub async fn bound_head(request: Request, next: Next) -> Result<Response, Problem> {
    let fields = request.headers();
    let bytes: usize = fields.iter().map(|(name, value)| name.as_str().len() + value.len()).sum();
    if fields.len() > MOST_FIELDS || bytes > MOST_FIELD_BYTES {
        let detail = format!("send at most {MOST_FIELDS} header fields, {MOST_FIELD_BYTES} bytes in all");
        return Err(Problem::new(Kind::HEADERS_TOO_LARGE, detail));
    }
    Ok(next.run(request).await)
}

/// Places for requests under way.
#[derive(Debug, Clone)]
pub struct Places(Arc<Semaphore>);

impl Places {
    pub fn new(places: usize) -> Self {
        Self(Arc::new(Semaphore::new(places)))
    }
}

/// Works on a request if there is a place for it; else says at once that there is none.
pub async fn shed(State(places): State<Places>, request: Request, next: Next) -> Result<Response, Problem> {
    let Ok(_place) = places.0.try_acquire() else {
        let detail = "too many requests are being worked on; wait as Retry-After says";
        let problem = Problem::new(Kind::OVERLOADED, detail);
        return Err(problem.with_header(header::RETRY_AFTER, HeaderValue::from_static("1")));
    };
    Ok(next.run(request).await)
}
