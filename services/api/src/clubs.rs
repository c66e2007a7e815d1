//! The clubs as their newest files say, parsed once a version.
//!
//! Owns: that cache. Must not know: who may read what.

use crate::problem::ApiError;
use chrono::{DateTime, Utc};
use club::Club;
use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};
use store::Store;

/// Parsed files kept: the newest of each club that was asked for.
pub(crate) struct Clubs {
    known: Mutex<HashMap<String, Seen>>,
    look_every: Duration,
}

#[derive(Clone)]
struct Seen {
    club: Arc<Club>,
    looked_at: Instant,
}

impl Clubs {
    /// A file that was looked at this long ago is looked at again.
    pub(crate) fn looked_at_every(look_every: Duration) -> Self {
        Self {
            known: Mutex::default(),
            look_every,
        }
    }

    /// The club of the newest file seen; none if none was.
    pub(crate) async fn newest(
        &self,
        store: &Store,
        slug: &str,
        now: DateTime<Utc>,
    ) -> Result<Option<Arc<Club>>, ApiError> {
        let known = self.lock().get(slug).cloned();
        if let Some(seen) = &known
            && seen.looked_at.elapsed() < self.look_every
        {
            return Ok(Some(seen.club.clone()));
        }
        let looked_at = Instant::now();
        let Some(kept) = store.latest_club_version(slug, now).await? else {
            return Ok(None);
        };
        let club = match known.filter(|seen| seen.club.version == kept.file.version) {
            Some(seen) => seen.club,
            // A file that was kept had been read without a mistake; only a damaged store or another version's rules differ.
            None => Arc::new(club::parse(&kept.file.text).map_err(|_| ApiError::ClubFile)?.club),
        };
        let seen = Seen {
            club: club.clone(),
            looked_at,
        };
        self.lock().insert(slug.to_owned(), seen);
        Ok(Some(club))
    }

    /// A file was written: all are looked at again.
    pub(crate) fn forget(&self) {
        self.lock().clear();
    }

    fn lock(&self) -> std::sync::MutexGuard<'_, HashMap<String, Seen>> {
        self.known.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
