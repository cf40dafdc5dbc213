//! What pages share.

use std::hash::Hash;
use std::net::IpAddr;
use std::num::NonZeroU32;
use std::sync::Arc;

use application::Application;
use governor::clock::DefaultClock;
use governor::state::keyed::DefaultKeyedStateStore;
use governor::{Quota, RateLimiter};

/// Where a request comes from, as far as strangers are told apart; whoever serves puts it beside each request.
#[derive(Debug, Clone, Copy)]
pub struct Household(pub IpAddr);

#[derive(Debug, Clone)]
pub struct ConsoleState {
    pub(crate) application: Application,
    pub(crate) attempts: Attempts,
}

impl ConsoleState {
    pub fn new(application: Application) -> Self {
        Self { application, attempts: Attempts::default() }
    }
}

/// Attempts to sign in a minute, of each name and of each address: whoever guesses is slowed, whoever mistypes is not.
const OF_A_NAME: NonZeroU32 = NonZeroU32::new(10).unwrap();
const OF_AN_ADDRESS: NonZeroU32 = NonZeroU32::new(30).unwrap();
/// So many that are counted, those who have been quiet are forgotten.
const MOST_COUNTED: usize = 10_000;

#[derive(Debug, Clone)]
pub(crate) struct Attempts {
    by_name: Counter<String>,
    by_address: Counter<IpAddr>,
}

impl Default for Attempts {
    fn default() -> Self {
        Self { by_name: Counter::new(OF_A_NAME), by_address: Counter::new(OF_AN_ADDRESS) }
    }
}

impl Attempts {
    /// Whether one more is allowed now.
    pub fn take(&self, name: &str, from: Option<Household>) -> bool {
        self.take_of_address(from) && self.by_name.take(&name.trim().to_lowercase())
    }

    /// As [`Self::take`], where nobody gives a name.
    pub fn take_of_address(&self, from: Option<Household>) -> bool {
        let address = from.map_or(IpAddr::from([0, 0, 0, 0]), |household| household.0);
        self.by_address.take(&address)
    }
}

#[derive(Clone)]
struct Counter<K: Clone + Hash + Eq>(Arc<RateLimiter<K, DefaultKeyedStateStore<K>, DefaultClock>>);

impl<K: Clone + Hash + Eq> std::fmt::Debug for Counter<K> {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter.write_str("Counter")
    }
}

impl<K: Clone + Hash + Eq> Counter<K> {
    fn new(per_minute: NonZeroU32) -> Self {
        Self(Arc::new(RateLimiter::keyed(Quota::per_minute(per_minute))))
    }

    fn take(&self, key: &K) -> bool {
        if self.0.len() > MOST_COUNTED {
            self.0.retain_recent();
        }
        self.0.check_key(key).is_ok()
    }
}
