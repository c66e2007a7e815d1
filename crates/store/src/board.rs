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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::NewAdvisory;

    fn issued(id: &str, club: &str, occurrence: &str, at: i64) -> NewAdvisory {
        NewAdvisory {
            id: id.into(),
            club: club.into(),
            occurrence: occurrence.into(),
            input_hash: id.into(),
            inputs: vec![],
            document: id.as_bytes().to_vec(),
            issued_at: DateTime::from_timestamp(at, 0).unwrap(),
        }
    }

    // No source: the board shows what stands, and only of its own club.
    #[tokio::test]
    async fn the_last_issue_of_each_occurrence_stands() {
        let store = Store::open_in_memory().await.unwrap();
        for new in [
            issued("tue-1", "ours", "tuesday", 1_000),
            issued("tue-2", "ours", "tuesday", 2_000),
            issued("mon-1", "ours", "monday", 1_500),
            issued("long-ago", "ours", "last-year", 10),
            issued("tue-9", "theirs", "tuesday", 3_000),
        ] {
            assert!(store.put_advisory(&new).await.unwrap());
        }
        let since = DateTime::from_timestamp(1_000, 0).unwrap();
        let documents = store.standing_documents("ours", since).await.unwrap();
        assert_eq!(documents, [b"mon-1".to_vec(), b"tue-2".to_vec()]);
    }
}
