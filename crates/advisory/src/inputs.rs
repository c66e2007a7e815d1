//! What an advisory is made from, kept with it so that it can be made again after the run was pruned.

use crate::document::{CallWord, PastCall};
use chrono::{DateTime, Utc};
use forecast::{RunSlice, SourceId, hash};
use serde::{Deserialize, Serialize};
use thiserror::Error;

/// What the catalogue says of a feed, as far as a document needs it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FeedFacts {
    /// The feed.
    pub source: SourceId,
    /// Producer and the sentence its licence asks for.
    pub attribution: String,
    /// Hours from one cycle to the next.
    pub every_h: u16,
    /// Minutes after a cycle's time when it is usually out.
    pub usually_out_after_min: u16,
}

/// What one advisory was made from.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Inputs {
    /// SHA-256 of the club file whose text is kept beside.
    pub club_version: String,
    /// The session's key in that file.
    pub session: String,
    /// The occurrence: session key and recurrence id.
    pub occurrence: String,
    /// Leaving the berth.
    #[serde(with = "chrono::serde::ts_seconds")]
    pub leaves: DateTime<Utc>,
    /// Back alongside.
    #[serde(with = "chrono::serde::ts_seconds")]
    pub alongside: DateTime<Utc>,
    /// The values used, with the messages they were read from; one run for each source.
    pub slices: Vec<RunSlice>,
    /// What the runs before this one said of the session, the oldest first.
    pub moved: Vec<PastCall>,
    /// The worse call that was issued before and stands until the kinder forecast is believed.
    pub held: Option<CallWord>,
    /// The issue it was made to follow, where the same had been issued before that one: a club file that was put back, for example.
    pub follows: Option<i64>,
    /// The feeds of the catalogue.
    pub feeds: Vec<FeedFacts>,
    /// Hash of the catalogue.
    pub catalogue: String,
    /// Version of the rules.
    pub rules: String,
    /// Version of the time-zone data.
    pub time_zones: String,
}

/// What can go wrong with inputs.
#[derive(Debug, Error)]
pub enum AdvisoryError {
    /// The club file of that version has no such session.
    #[error(
        "session {session} is not in the club file of version {version}: give the file the advisory was made with"
    )]
    NoSuchSession {
        /// The session's key.
        session: String,
        /// The file's version.
        version: String,
    },
    /// The inputs cannot be written or read.
    #[error(
        "the inputs of an advisory cannot be read or written: the store may be damaged; restore it from a copy"
    )]
    Unreadable(#[from] postcard::Error),
    /// The document cannot be written.
    #[error("the advisory cannot be written as JSON")]
    Unwritable(#[from] serde_json::Error),
}

impl Inputs {
    /// The bytes that are kept.
    pub fn to_bytes(&self) -> Result<Vec<u8>, AdvisoryError> {
        Ok(postcard::to_stdvec(self)?)
    }

    /// From the bytes that were kept.
    pub fn from_bytes(bytes: &[u8]) -> Result<Self, AdvisoryError> {
        Ok(postcard::from_bytes(bytes)?)
    }

    /// SHA-256 of what was used, without when it became visible: the same values fetched again change nothing.
    pub fn hash(&self) -> Result<String, AdvisoryError> {
        let mut used = self.clone();
        for slice in &mut used.slices {
            slice.visible_at = slice.reference;
        }
        Ok(hash::sha256_hex(&used.to_bytes()?))
    }

    /// The facts of one feed.
    pub fn feed(&self, source: &SourceId) -> Option<&FeedFacts> {
        self.feeds.iter().find(|facts| facts.source == *source)
    }
}
