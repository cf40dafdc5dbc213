use std::sync::{Mutex, PoisonError};

use application::surroundings::Clock;
use domain::time::Timestamp;

/// A clock that stands where it was set.
#[derive(Debug)]
pub struct ScriptClock(Mutex<Timestamp>);

impl ScriptClock {
    pub fn at(now: Timestamp) -> Self {
        Self(Mutex::new(now))
    }

    pub fn set(&self, now: Timestamp) {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = now;
    }
}

impl Clock for ScriptClock {
    fn now(&self) -> Timestamp {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
