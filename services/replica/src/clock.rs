//! The replica's time, which its owner gives.
//!
//! Must not know: the time of the machine.

use chrono::{DateTime, Utc};
use std::sync::{Arc, Mutex, PoisonError};

/// Tells the replica what time it is: files are published, and answers dated, by it.
pub type Clock = Arc<dyn Fn() -> DateTime<Utc> + Send + Sync>;

/// A clock that stands still.
pub fn fixed_clock(at: DateTime<Utc>) -> Clock {
    Arc::new(move || at)
}

/// A clock that its owner sets by hand; clones show the same time.
#[derive(Clone, Debug)]
pub struct HandClock(Arc<Mutex<DateTime<Utc>>>);

impl HandClock {
    /// A clock that shows `at`.
    pub fn new(at: DateTime<Utc>) -> Self {
        Self(Arc::new(Mutex::new(at)))
    }

    /// Sets it to `at`.
    pub fn set(&self, at: DateTime<Utc>) {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = at;
    }

    /// The time it shows.
    pub fn now(&self) -> DateTime<Utc> {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The same clock for [`crate::ReplicaSettings`].
    pub fn clock(&self) -> Clock {
        let this = self.clone();
        Arc::new(move || this.now())
    }
}
