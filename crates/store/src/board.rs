//! What a reader asks: the document that stands for each session occurrence of a club, or for one, and every issue of
//! one. Inputs stay on the shelf: they are large and no reader is shown them.

use crate::run::instant;
use crate::{Store, StoreError};
use chrono::{DateTime, Utc};
use sqlx::Row;
use sqlx::any::AnyRow;

/// One issue of an advisory, without its inputs.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Issue {
    /// Which advisory of its occurrence, counted from 1.
    pub revision: i64,
    /// Its name in the store.
    pub id: String,
    /// When it was issued.
    pub issued_at: DateTime<Utc>,
    /// The document as issued.
    pub document: Vec<u8>,
}

impl Store {
    /// The issue that stands for each occurrence of a club, by occurrence, without those last issued before an
    /// instant. Inputs stay on the shelf: they are large and a board does not show them.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn standing_issues(
        &self,
        club: &str,
        issued_since: DateTime<Utc>,
    ) -> Result<Vec<Issue>, StoreError> {
        let rows = sqlx::query(
            "SELECT revision, id, issued_at, document FROM advisories AS standing
             WHERE club = $1 AND issued_at >= $2 AND revision =
                 (SELECT MAX(revision) FROM advisories WHERE club = $1 AND occurrence = standing.occurrence)
             ORDER BY occurrence ASC",
        )
        .bind(club)
        .bind(issued_since.timestamp())
        .fetch_all(&self.pool)
        .await;
        rows.and_then(|rows| rows.iter().map(issue).collect())
            .map_err(StoreError::while_doing(format!("reading the board of {club}")))
    }

    /// Every issue of a club from one instant to another, the newest first, at most `limit`.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn issues_between(
        &self,
        club: &str,
        (since, until): (DateTime<Utc>, DateTime<Utc>),
        limit: u16,
    ) -> Result<Vec<Issue>, StoreError> {
        let rows = sqlx::query(
            "SELECT revision, id, issued_at, document FROM advisories
             WHERE club = $1 AND issued_at >= $2 AND issued_at <= $3
             ORDER BY issued_at DESC, occurrence ASC, revision DESC LIMIT $4",
        )
        .bind(club)
        .bind(since.timestamp())
        .bind(until.timestamp())
        .bind(i64::from(limit))
        .fetch_all(&self.pool)
        .await;
        rows.and_then(|rows| rows.iter().map(issue).collect())
            .map_err(StoreError::while_doing(format!(
                "reading what was issued for {club}"
            )))
    }

    /// For a stretch of time: the documents last issued from one instant to another.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn standing_documents_between(
        &self,
        club: &str,
        (since, until): (DateTime<Utc>, DateTime<Utc>),
    ) -> Result<Vec<Vec<u8>>, StoreError> {
        let rows = sqlx::query(
            "SELECT document FROM advisories AS standing
             WHERE club = $1 AND issued_at >= $2 AND issued_at <= $3 AND revision =
                 (SELECT MAX(revision) FROM advisories WHERE club = $1 AND occurrence = standing.occurrence)
             ORDER BY occurrence ASC",
        )
        .bind(club)
        .bind(since.timestamp())
        .bind(until.timestamp())
        .fetch_all(&self.pool)
        .await;
        rows.and_then(|rows| rows.iter().map(|row| row.try_get(0)).collect())
            .map_err(StoreError::while_doing(format!("reading the sessions of {club}")))
    }

    /// The issue that stands for a session occurrence.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn standing_issue(&self, club: &str, occurrence: &str) -> Result<Option<Issue>, StoreError> {
        let row = sqlx::query(
            "SELECT revision, id, issued_at, document FROM advisories
             WHERE club = $1 AND occurrence = $2 ORDER BY revision DESC LIMIT 1",
        )
        .bind(club)
        .bind(occurrence)
        .fetch_optional(&self.pool)
        .await;
        row.and_then(|row| row.as_ref().map(issue).transpose())
            .map_err(StoreError::while_doing(format!(
                "reading what stands of {club} for {occurrence}"
            )))
    }

    /// The issues of a session occurrence after a revision, oldest first, at most `limit`.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn issues(
        &self,
        club: &str,
        occurrence: &str,
        (after, limit): (i64, u16),
    ) -> Result<Vec<Issue>, StoreError> {
        let rows = sqlx::query(
            "SELECT revision, id, issued_at, document FROM advisories
             WHERE club = $1 AND occurrence = $2 AND revision > $3 ORDER BY revision ASC LIMIT $4",
        )
        .bind(club)
        .bind(occurrence)
        .bind(after)
        .bind(i64::from(limit))
        .fetch_all(&self.pool)
        .await;
        rows.and_then(|rows| rows.iter().map(issue).collect())
            .map_err(StoreError::while_doing(format!(
                "reading the issues of {club} for {occurrence}"
            )))
    }
}

fn issue(row: &AnyRow) -> Result<Issue, sqlx::Error> {
    Ok(Issue {
        revision: row.try_get(0)?,
        id: row.try_get(1)?,
        issued_at: instant(row.try_get(2)?)?,
        document: row.try_get(3)?,
    })
}
