//! The clubs as their newest files say, parsed once a version.
//!
//! Owns: that cache. Must not know: who may read what.

use crate::problem::ApiError;
use chrono::{DateTime, Utc};
use club::Club;
use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};
use store::Store;

/// Parsed files kept: the newest of each club that was asked for.
#[derive(Default)]
pub(crate) struct Clubs(Mutex<HashMap<String, Arc<Club>>>);

impl Clubs {
    /// The club of the newest file seen; none if none was.
    pub(crate) async fn newest(
        &self,
        store: &Store,
        slug: &str,
        now: DateTime<Utc>,
    ) -> Result<Option<Arc<Club>>, ApiError> {
        let Some(kept) = store.latest_club_version(slug, now).await? else {
            return Ok(None);
        };
        let version = &kept.file.version;
        let known = self
            .lock()
            .get(slug)
            .filter(|club| club.version == *version)
            .cloned();
        if let Some(club) = known {
            return Ok(Some(club));
        }
        // A file that was kept had been read without a mistake; only a damaged store or another version's rules differ.
        let parsed = club::parse(&kept.file.text).map_err(|_| ApiError::ClubFile)?;
        let club = Arc::new(parsed.club);
        self.lock().insert(slug.to_owned(), club.clone());
        Ok(Some(club))
    }

    fn lock(&self) -> std::sync::MutexGuard<'_, HashMap<String, Arc<Club>>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
