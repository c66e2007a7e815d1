//! Advisories and boards that were made ready to send, kept for a moment: what many ask for at once is made once.
//!
//! Owns: how long one may be given again, and how much is kept. Must not know: how one is made, who may read it.
//!
//! One is given again for a moment only (a second, unless set otherwise), so that what another process has issued or
//! decided is never later than that; and never across a `valid_until`, which each request looks at by the clock. What
//! this process itself writes is seen at once, as everything kept is dropped with it.

use crate::answer::Tagged;
use crate::media::Media;
use crate::problem::ApiError;
use chrono::{DateTime, TimeDelta, Utc};
use moka::future::Cache;
use std::sync::Arc;
use std::time::Duration;

/// Octets kept, at most.
const OCTETS_AT_MOST: u64 = 64 << 20;

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
    /// When they were made.
    pub made_at: DateTime<Utc>,
    /// The `valid_until` of each advisory in them.
    pub until: Vec<DateTime<Utc>>,
}

impl Finished {
    /// Whether they are still what would be made now.
    fn stands(&self, now: DateTime<Utc>, kept_for: TimeDelta) -> bool {
        let age = now - self.made_at;
        let crossed = |until: &DateTime<Utc>| (now > *until) != (self.made_at > *until);
        age >= TimeDelta::zero() && age < kept_for && !self.until.iter().any(crossed)
    }
}

/// Those that are kept.
pub(crate) struct FinishedAnswers {
    kept: Option<Cache<Which, Arc<Finished>>>,
    kept_for: TimeDelta,
}

impl FinishedAnswers {
    /// For so long; for no time, nothing is kept.
    pub(crate) fn for_a_while(kept_for: Duration) -> Self {
        let cache = || {
            Cache::builder()
                .max_capacity(OCTETS_AT_MOST)
                .weigher(|_, one: &Arc<Finished>| u32::try_from(one.tagged.bytes.len()).unwrap_or(u32::MAX))
                .time_to_live(kept_for)
                .build()
        };
        Self {
            kept: (!kept_for.is_zero()).then(cache),
            kept_for: TimeDelta::from_std(kept_for).unwrap_or(TimeDelta::MAX),
        }
    }

    /// The one that stands, or a new one; of many who ask at once one makes it.
    pub(crate) async fn get(
        &self,
        which: Which,
        now: DateTime<Utc>,
        make: impl Future<Output = Result<Finished, ApiError>>,
    ) -> Result<Arc<Finished>, Arc<ApiError>> {
        let Some(kept) = &self.kept else {
            return make.await.map(Arc::new).map_err(Arc::new);
        };
        if let Some(found) = kept.get(&which).await {
            if found.stands(now, self.kept_for) {
                return Ok(found);
            }
            kept.invalidate(&which).await;
        }
        kept.try_get_with(which, async { make.await.map(Arc::new) }).await
    }

    /// Something was written: all is made anew.
    pub(crate) fn forget(&self) {
        if let Some(kept) = &self.kept {
            kept.invalidate_all();
        }
    }
}
