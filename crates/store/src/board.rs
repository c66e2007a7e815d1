//! The board's question: the document that stands for each session occurrence of a club.

use crate::{Store, StoreError};
use chrono::{DateTime, Utc};
use sqlx::Row;

impl Store {
    /// The document last issued for each occurrence of a club, by occurrence, without those last issued before an
    /// instant. Inputs stay on the shelf: they are large and a board does not show them.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn standing_documents(
        &self,
        club: &str,
        issued_since: DateTime<Utc>,
    ) -> Result<Vec<Vec<u8>>, StoreError> {
        let rows = sqlx::query(
            "SELECT document FROM advisories AS standing
             WHERE club = $1 AND issued_at >= $2 AND revision =
                 (SELECT MAX(revision) FROM advisories WHERE club = $1 AND occurrence = standing.occurrence)
             ORDER BY occurrence ASC",
        )
        .bind(club)
        .bind(issued_since.timestamp())
        .fetch_all(&self.pool)
        .await;
        rows.and_then(|rows| rows.iter().map(|row| row.try_get(0)).collect())
            .map_err(StoreError::while_doing(format!("reading the board of {club}")))
    }
}
