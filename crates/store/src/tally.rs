//! How many of a run's wanted messages were read, and why the others are missing, from the manifests of its parts.

use crate::slice::manifest_of;
use crate::{Store, StoreError};
use chrono::{DateTime, Utc};
use forecast::{Gap, Outcome, SourceId};
use sqlx::Row;
use std::collections::BTreeMap;

/// What became of the messages of a run's kept parts.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct MessageTally {
    /// Messages read.
    pub read: u64,
    /// Messages missing, by reason.
    pub missing: BTreeMap<Gap, u64>,
}

impl MessageTally {
    /// All messages that were wanted.
    pub fn wanted(&self) -> u64 {
        self.read + self.missing.values().sum::<u64>()
    }
}

impl Store {
    /// Counts the messages of the parts of a run that were visible at `as_of`.
    ///
    /// # Errors
    /// [`StoreError::Unreadable`] or [`StoreError::Inconsistent`] if what is kept was damaged,
    /// [`StoreError::Database`] otherwise.
    pub async fn message_tally(
        &self,
        source: &SourceId,
        reference: DateTime<Utc>,
        as_of: DateTime<Utc>,
    ) -> Result<MessageTally, StoreError> {
        let what = format!("run {} of {source}", reference.to_rfc3339());
        let doing = || StoreError::while_doing(format!("counting the messages of {what}"));
        let rows = sqlx::query(
            "SELECT manifest FROM parts WHERE source = $1 AND reference = $2 AND visible_at <= $3",
        )
        .bind(source.as_str())
        .bind(reference.timestamp())
        .bind(as_of.timestamp())
        .fetch_all(&self.pool)
        .await
        .map_err(doing())?;
        let mut tally = MessageTally::default();
        for row in &rows {
            let octets: Vec<u8> = row.try_get(0).map_err(doing())?;
            for message in manifest_of(&octets, &what)?.messages {
                match message.outcome {
                    Outcome::Read => tally.read += 1,
                    Outcome::Missing(gap) => *tally.missing.entry(gap).or_default() += 1,
                }
            }
        }
        Ok(tally)
    }
}
