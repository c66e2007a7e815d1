//! What clubs have decided of sessions: append-only records, as bytes of a document.
//!
//! Must not know: what a decision says.

use crate::run::instant;
use crate::{Store, StoreError};
use chrono::{DateTime, Utc};
use sqlx::Row;

/// A decision to be kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewDecision {
    /// The club's short name.
    pub club: String,
    /// The session occurrence it is for.
    pub occurrence: String,
    /// The document.
    pub document: Vec<u8>,
    /// When it was made.
    pub at: DateTime<Utc>,
}

impl Store {
    /// Keeps a decision after those made before; none is ever changed.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn put_decision(&self, new: &NewDecision) -> Result<(), StoreError> {
        let doing = || StoreError::while_doing(format!("keeping a decision of {}", new.occurrence));
        let _one_writer = self.writer.lock().await;
        // Another process may take the number in between: then this one comes after it.
        loop {
            let inserted = sqlx::query(
                "INSERT INTO decisions (club, occurrence, number, document, decided_at)
                 SELECT $1, $2,
                     COALESCE((SELECT MAX(number) FROM decisions WHERE club = $1 AND occurrence = $2), 0) + 1, $3, $4
                 ON CONFLICT DO NOTHING",
            )
            .bind(new.club.as_str())
            .bind(new.occurrence.as_str())
            .bind(new.document.as_slice())
            .bind(new.at.timestamp())
            .execute(&self.pool)
            .await
            .map_err(doing())?;
            if inserted.rows_affected() == 1 {
                return Ok(());
            }
        }
    }

    /// Every decision of a club made from `since` to `as_of`, in the order they were made.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn decisions(
        &self,
        club: &str,
        since: DateTime<Utc>,
        as_of: DateTime<Utc>,
    ) -> Result<Vec<NewDecision>, StoreError> {
        let doing = || StoreError::while_doing(format!("reading the decisions of {club}"));
        let rows = sqlx::query(
            "SELECT occurrence, document, decided_at FROM decisions
             WHERE club = $1 AND decided_at >= $2 AND decided_at <= $3 ORDER BY decided_at ASC, number ASC",
        )
        .bind(club)
        .bind(since.timestamp())
        .bind(as_of.timestamp())
        .fetch_all(&self.pool)
        .await
        .map_err(doing())?;
        let decision = |row: &sqlx::any::AnyRow| -> Result<NewDecision, sqlx::Error> {
            Ok(NewDecision {
                club: club.to_owned(),
                occurrence: row.try_get(0)?,
                document: row.try_get(1)?,
                at: instant(row.try_get(2)?)?,
            })
        };
        rows.iter()
            .map(decision)
            .collect::<Result<_, _>>()
            .map_err(doing())
    }
}
