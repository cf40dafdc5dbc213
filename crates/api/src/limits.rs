//! What one caller, and all together, may ask of the service.

use std::hash::Hash;
use std::net::IpAddr;
use std::num::NonZeroU32;
use std::sync::Arc;
use std::sync::atomic::{AtomicU32, Ordering};

use axum::extract::{Request, State};
use axum::http::{Extensions, HeaderMap, HeaderName, HeaderValue, header};
use axum::middleware::Next;
use axum::response::Response;
use governor::clock::{Clock, DefaultClock};
use governor::middleware::StateInformationMiddleware;
use governor::state::keyed::DefaultKeyedStateStore;
use governor::{Quota, RateLimiter};

use crate::client_address::ClientAddress;
use crate::problem::{Kind, Problem};

type Limiter<K> = RateLimiter<K, DefaultKeyedStateStore<K>, DefaultClock, StateInformationMiddleware>;

/// Requests a minute of each of many (generic cell rate algorithm).
#[derive(Clone)]
pub struct RateLimit<K: Clone + Hash + Eq> {
    limiter: Arc<Limiter<K>>,
    per_minute: NonZeroU32,
    of: &'static str,
    taken: Arc<AtomicU32>,
}

impl<K: Clone + Hash + Eq> std::fmt::Debug for RateLimit<K> {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(formatter, "RateLimit({} a minute of each {})", self.per_minute, self.of)
    }
}

/// What a request left of its share.
pub struct Spent {
    of: &'static str,
    per_minute: NonZeroU32,
    remaining: u32,
}

const RATE_LIMIT: HeaderName = HeaderName::from_static("ratelimit");
const RATE_LIMIT_POLICY: HeaderName = HeaderName::from_static("ratelimit-policy");
/// So often, those who have been quiet are forgotten: strangers are many.
const TIDY_EVERY: u32 = 4096;

impl<K: Clone + Hash + Eq> RateLimit<K> {
    /// `of` names the policy: whose share it is.
    pub fn new(per_minute: NonZeroU32, of: &'static str) -> Self {
        let limiter =
            RateLimiter::keyed(Quota::per_minute(per_minute)).with_middleware::<StateInformationMiddleware>();
        Self { limiter: Arc::new(limiter), per_minute, of, taken: Arc::default() }
    }

    /// Takes one request of the share, or refuses.
    pub fn take(&self, key: &K) -> Result<Spent, Problem> {
        if self.taken.fetch_add(1, Ordering::Relaxed) % TIDY_EVERY == TIDY_EVERY - 1 {
            self.limiter.retain_recent();
        }
        let spent = |remaining| Spent { of: self.of, per_minute: self.per_minute, remaining };
        match self.limiter.check_key(key) {
            Ok(state) => Ok(spent(state.remaining_burst_capacity())),
            Err(refusal) => {
                let wait = refusal.wait_time_from(DefaultClock::default().now()).as_secs() + 1;
                let detail = format!("{} requests a minute are your share; wait {wait} s", self.per_minute);
                let mut headers = HeaderMap::new();
                spent(0).tell(&mut headers);
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
        let policy = format!("\"{}\";q={};w=60", self.of, self.per_minute);
        let state = format!("\"{}\";r={};t=60", self.of, self.remaining);
        for (name, text) in [(RATE_LIMIT_POLICY, policy), (RATE_LIMIT, state)] {
            if let Ok(value) = HeaderValue::from_str(&text) {
                headers.insert(name, value);
            }
        }
    }
}

/// The share of requests without a good token, by where they come from.
pub type StrangerLimit = RateLimit<IpAddr>;

/// Where a request comes from, as far as strangers are told apart.
pub fn household(extensions: &Extensions) -> IpAddr {
    extensions.get::<ClientAddress>().map_or(IpAddr::from([0, 0, 0, 0]), |address| address.household())
}

/// Takes a request for an operation that anybody may call out of its address's share.
pub async fn limit_strangers(
    State(limit): State<StrangerLimit>,
    request: Request,
    next: Next,
) -> Result<Response, Problem> {
    let spent = limit.take(&household(request.extensions()))?;
    let mut response = next.run(request).await;
    spent.tell(response.headers_mut());
    Ok(response)
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
