//! Advisories and boards that were made ready to send, kept for a moment: what many ask for at once is made once.
//!
//! Owns: how long one may be given again, and how much is kept. Must not know: how one is made, who may read it.
//!
//! One is given again for a moment only (a second, unless set otherwise), so that what another process has issued or
//! decided is never later than that; and never across a `valid_until`, which each request looks at by the clock. What
//! this process itself writes is seen at once, as everything kept is dropped with it.

use crate::answer::Tagged;
use crate::flight::Flights;
use crate::media::Media;
use crate::problem::ApiError;
use chrono::{DateTime, Utc};
use std::collections::HashMap;
use std::sync::{Arc, PoisonError, RwLock};
use std::time::{Duration, Instant};

/// Octets kept, at most.
const OCTETS_AT_MOST: usize = 64 << 20;

/// Which answer.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub(crate) struct Which {
    pub slug: String,
    /// None: the board.
    pub session: Option<String>,
    pub media: Media,
}

/// What is ready to send.
pub(crate) struct Finished {
    /// The bytes.
    pub tagged: Tagged,
    /// When they were made, by the clock of what is answered.
    pub made_at: DateTime<Utc>,
    /// And by the machine's, which counts how long they are kept.
    pub made: Instant,
    /// The `valid_until` of each advisory in them.
    pub until: Vec<DateTime<Utc>>,
}

impl Finished {
    /// Whether they are still what would be made now.
    pub(crate) fn stands(&self, now: DateTime<Utc>, kept_for: Duration) -> bool {
        let crossed = |until: &DateTime<Utc>| (now > *until) != (self.made_at > *until);
        self.made.elapsed() < kept_for && !self.until.iter().any(crossed)
    }
}

/// Those that are kept.
pub(crate) struct FinishedAnswers {
    kept: RwLock<HashMap<Which, Arc<Finished>>>,
    kept_for: Duration,
    under_way: Flights<Which, Finished>,
}

impl FinishedAnswers {
    /// For so long; for no time, nothing is kept.
    pub(crate) fn for_a_while(kept_for: Duration) -> Self {
        Self {
            kept: RwLock::default(),
            kept_for,
            under_way: Flights::default(),
        }
    }

    /// The one that stands, or a new one; of many who ask at once one makes it.
    ///
    /// # Errors
    /// What the making gives.
    pub(crate) async fn get(
        &self,
        which: Which,
        now: DateTime<Utc>,
        make: impl Future<Output = Result<Finished, ApiError>>,
    ) -> Result<Arc<Finished>, ApiError> {
        if let Some(found) = self.standing(&which, now) {
            return Ok(found);
        }
        let made = self.under_way.answer(which.clone(), make).await?;
        if !self.kept_for.is_zero() {
            self.keep(which, made.clone());
        }
        Ok(made)
    }

    fn standing(&self, which: &Which, now: DateTime<Utc>) -> Option<Arc<Finished>> {
        let kept = self.kept.read().unwrap_or_else(PoisonError::into_inner);
        kept.get(which)
            .filter(|one| one.stands(now, self.kept_for))
            .cloned()
    }

    /// Room is made by dropping all: what is asked for again is made again.
    fn keep(&self, which: Which, made: Arc<Finished>) {
        let octets = |one: &Arc<Finished>| one.tagged.bytes.len();
        let mut kept = self.kept.write().unwrap_or_else(PoisonError::into_inner);
        kept.retain(|_, one| one.made.elapsed() < self.kept_for);
        if kept.values().map(octets).sum::<usize>() + octets(&made) > OCTETS_AT_MOST {
            kept.clear();
        }
        kept.insert(which, made);
    }

    /// Something was written: all is made anew.
    pub(crate) fn forget(&self) {
        self.kept.write().unwrap_or_else(PoisonError::into_inner).clear();
    }
}
