//! Issued advisories: append-only records with the inputs they were made from.

use crate::run::instant;
use crate::{Store, StoreError};
use chrono::{DateTime, Utc};
use sqlx::Row;
use sqlx::any::AnyRow;

/// An advisory to be issued.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewAdvisory {
    /// Its name, unique in the store.
    pub id: String,
    /// The club's short name.
    pub club: String,
    /// The session occurrence it is for.
    pub occurrence: String,
    /// Hash of the inputs it was made from: the same inputs are never issued twice for an occurrence.
    pub input_hash: String,
    /// The inputs themselves, so that it can be explained after its run was pruned.
    pub inputs: Vec<u8>,
    /// The document as issued.
    pub document: Vec<u8>,
    /// When it was issued.
    pub issued_at: DateTime<Utc>,
}

/// An advisory as issued.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StoredAdvisory {
    /// Which advisory of its occurrence, counted from 1.
    pub revision: i64,
    /// The advisory.
    pub advisory: NewAdvisory,
}

/// Every reading statement names its columns in this order.
macro_rules! select_advisories {
    ($condition:literal) => {
        concat!(
            "SELECT id, club, occurrence, input_hash, inputs, document, issued_at, revision FROM advisories ",
            $condition
        )
    };
}

impl Store {
    /// Issues an advisory. Returns false, and changes nothing, if one with the same inputs was issued for the occurrence.
    ///
    /// # Errors
    /// [`StoreError::IdTaken`] if the name belongs to another advisory, [`StoreError::Database`] otherwise.
    pub async fn put_advisory(&self, new: &NewAdvisory) -> Result<bool, StoreError> {
        let doing = || StoreError::while_doing(format!("issuing advisory {}", new.id));
        let _one_writer = self.writer.lock().await;
        let inserted = sqlx::query(
            "INSERT INTO advisories (id, club, occurrence, revision, input_hash, inputs, document, issued_at)
             SELECT $1, $2, $3,
                 COALESCE((SELECT MAX(revision) FROM advisories WHERE club = $2 AND occurrence = $3), 0) + 1,
                 $4, $5, $6, $7
             WHERE NOT EXISTS (SELECT 1 FROM advisories WHERE club = $2 AND occurrence = $3 AND input_hash = $4)
             ON CONFLICT DO NOTHING",
        )
        .bind(new.id.as_str())
        .bind(new.club.as_str())
        .bind(new.occurrence.as_str())
        .bind(new.input_hash.as_str())
        .bind(new.inputs.as_slice())
        .bind(new.document.as_slice())
        .bind(new.issued_at.timestamp())
        .execute(&self.pool)
        .await
        .map_err(doing())?;
        if inserted.rows_affected() == 1 {
            return Ok(true);
        }
        let known =
            sqlx::query("SELECT 1 FROM advisories WHERE club = $1 AND occurrence = $2 AND input_hash = $3")
                .bind(new.club.as_str())
                .bind(new.occurrence.as_str())
                .bind(new.input_hash.as_str())
                .fetch_optional(&self.pool)
                .await
                .map_err(doing())?;
        if known.is_some() {
            Ok(false)
        } else {
            Err(StoreError::IdTaken { id: new.id.clone() })
        }
    }

    /// The advisory of this name.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn advisory(&self, id: &str) -> Result<Option<StoredAdvisory>, StoreError> {
        let query = sqlx::query(select_advisories!("WHERE id = $1")).bind(id);
        Ok(self
            .advisories(query, format!("reading advisory {id}"))
            .await?
            .into_iter()
            .next())
    }

    /// The advisory last issued for a session occurrence.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn latest_advisory(
        &self,
        club: &str,
        occurrence: &str,
    ) -> Result<Option<StoredAdvisory>, StoreError> {
        let query = sqlx::query(select_advisories!(
            "WHERE club = $1 AND occurrence = $2 ORDER BY revision DESC LIMIT 1"
        ));
        let doing = format!("reading the latest advisory of {club} for {occurrence}");
        Ok(self
            .advisories(query.bind(club).bind(occurrence), doing)
            .await?
            .into_iter()
            .next())
    }

    /// Every advisory issued for a session occurrence, oldest first.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn advisories_for(
        &self,
        club: &str,
        occurrence: &str,
    ) -> Result<Vec<StoredAdvisory>, StoreError> {
        let query = sqlx::query(select_advisories!(
            "WHERE club = $1 AND occurrence = $2 ORDER BY revision ASC"
        ));
        let doing = format!("reading the advisories of {club} for {occurrence}");
        self.advisories(query.bind(club).bind(occurrence), doing).await
    }

    /// Names of advisories that begin so, ascending, at most `limit`: a short name is enough where it is unique.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn advisory_ids(&self, prefix: &str, limit: u16) -> Result<Vec<String>, StoreError> {
        let doing = || StoreError::while_doing(format!("looking for advisories named {prefix}..."));
        // SUBSTR and not LIKE: a prefix may hold the signs LIKE treats as wildcards.
        let rows = sqlx::query(
            "SELECT id FROM advisories WHERE SUBSTR(id, 1, CAST($1 AS BIGINT)) = $2 ORDER BY id ASC LIMIT $3",
        )
        .bind(prefix.chars().count() as i64)
        .bind(prefix)
        .bind(i64::from(limit))
        .fetch_all(&self.pool)
        .await
        .map_err(doing())?;
        rows.iter()
            .map(|row| row.try_get(0))
            .collect::<Result<_, _>>()
            .map_err(doing())
    }

    async fn advisories<'q>(
        &self,
        query: sqlx::query::Query<'q, sqlx::Any, sqlx::any::AnyArguments>,
        doing: String,
    ) -> Result<Vec<StoredAdvisory>, StoreError> {
        let rows = query
            .fetch_all(&self.pool)
            .await
            .and_then(|rows| rows.iter().map(stored_advisory).collect());
        rows.map_err(StoreError::while_doing(doing))
    }
}

fn stored_advisory(row: &AnyRow) -> Result<StoredAdvisory, sqlx::Error> {
    Ok(StoredAdvisory {
        revision: row.try_get(7)?,
        advisory: NewAdvisory {
            id: row.try_get(0)?,
            club: row.try_get(1)?,
            occurrence: row.try_get(2)?,
            input_hash: row.try_get(3)?,
            inputs: row.try_get(4)?,
            document: row.try_get(5)?,
            issued_at: instant(row.try_get(6)?)?,
        },
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn advisory(id: &str, hash: &str) -> NewAdvisory {
        NewAdvisory {
            id: id.into(),
            club: "demo".into(),
            occurrence: "day-one".into(),
            input_hash: hash.into(),
            inputs: vec![0, 1, 2],
            document: b"{}".to_vec(),
            issued_at: DateTime::from_timestamp(1_000, 0).unwrap(),
        }
    }

    // No source: these are the rules of the architecture text (append-only, issued once for the same inputs).
    #[tokio::test]
    async fn the_same_inputs_are_issued_once_and_history_is_kept_in_order() {
        let store = Store::open_in_memory().await.unwrap();
        assert!(store.put_advisory(&advisory("b1", "h1")).await.unwrap());
        assert!(!store.put_advisory(&advisory("b9", "h1")).await.unwrap());
        assert!(store.put_advisory(&advisory("a2", "h2")).await.unwrap());
        let history = store.advisories_for("demo", "day-one").await.unwrap();
        let ids: Vec<_> = history
            .iter()
            .map(|kept| (kept.revision, kept.advisory.id.as_str()))
            .collect();
        assert_eq!(ids, [(1, "b1"), (2, "a2")]);
        assert_eq!(
            store
                .latest_advisory("demo", "day-one")
                .await
                .unwrap()
                .unwrap()
                .advisory,
            advisory("a2", "h2")
        );
        assert_eq!(
            store.advisory("b1").await.unwrap().unwrap().advisory,
            advisory("b1", "h1")
        );
        assert_eq!(store.advisory("b9").await.unwrap(), None);
    }

    #[tokio::test]
    async fn a_name_taken_by_other_inputs_is_an_error_and_writes_nothing() {
        let store = Store::open_in_memory().await.unwrap();
        store.put_advisory(&advisory("b1", "h1")).await.unwrap();
        let error = store.put_advisory(&advisory("b1", "h2")).await.unwrap_err();
        assert!(matches!(error, StoreError::IdTaken { .. }), "{error}");
        assert_eq!(store.advisories_for("demo", "day-one").await.unwrap().len(), 1);
    }

    #[tokio::test]
    async fn a_short_name_finds_its_advisories_and_wildcards_are_plain_signs() {
        let store = Store::open_in_memory().await.unwrap();
        for id in ["ab1", "ab2", "a_c"] {
            store.put_advisory(&advisory(id, id)).await.unwrap();
        }
        assert_eq!(store.advisory_ids("ab", 10).await.unwrap(), ["ab1", "ab2"]);
        assert_eq!(store.advisory_ids("ab", 1).await.unwrap(), ["ab1"]);
        assert_eq!(store.advisory_ids("a_", 10).await.unwrap(), ["a_c"]);
        assert_eq!(store.advisory_ids("%", 10).await.unwrap(), [""; 0]);
    }
}
