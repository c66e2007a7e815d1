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

/// What came of issuing an advisory after another.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Put {
    /// It was issued.
    Issued,
    /// One with the same inputs was issued for the occurrence before: this one.
    Known(StoredAdvisory),
    /// Another was issued after the one it was to follow: nothing is kept.
    Overtaken,
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
        // Another process may take the revision in between: then this one comes after it.
        loop {
            if self.insert_advisory(new, None).await.map_err(doing())? {
                return Ok(true);
            }
            if self.is_issued(new).await.map_err(doing())? {
                return Ok(false);
            }
            if self.advisory(&new.id).await?.is_some() {
                return Err(StoreError::IdTaken { id: new.id.clone() });
            }
        }
    }

    /// Issues an advisory only while the one it was made after is still the last of its occurrence: `after` is that one's
    /// revision, 0 where there is none. What was made from less than another knew can so never follow it.
    ///
    /// # Errors
    /// [`StoreError::IdTaken`] if the name belongs to another advisory, [`StoreError::Database`] otherwise.
    pub async fn put_advisory_after(&self, new: &NewAdvisory, after: i64) -> Result<Put, StoreError> {
        let doing = || StoreError::while_doing(format!("issuing advisory {}", new.id));
        let _one_writer = self.writer.lock().await;
        if self.insert_advisory(new, Some(after)).await.map_err(doing())? {
            return Ok(Put::Issued);
        }
        if let Some(known) = self.advisory_of_inputs(new).await? {
            return Ok(Put::Known(known));
        }
        match self.advisory(&new.id).await? {
            Some(_) => Err(StoreError::IdTaken { id: new.id.clone() }),
            None => Ok(Put::Overtaken),
        }
    }

    /// The advisory that was issued for the same occurrence from the same inputs.
    async fn advisory_of_inputs(&self, new: &NewAdvisory) -> Result<Option<StoredAdvisory>, StoreError> {
        let query = sqlx::query(select_advisories!(
            "WHERE club = $1 AND occurrence = $2 AND input_hash = $3"
        ));
        let query = query
            .bind(new.club.as_str())
            .bind(new.occurrence.as_str())
            .bind(new.input_hash.as_str());
        let doing = format!("reading what stands in the place of advisory {}", new.id);
        Ok(self.advisories(query, doing).await?.into_iter().next())
    }

    /// One statement: the number is taken only while the last one is as expected, and once.
    async fn insert_advisory(&self, new: &NewAdvisory, after: Option<i64>) -> Result<bool, sqlx::Error> {
        let inserted = sqlx::query(
            "INSERT INTO advisories (id, club, occurrence, revision, input_hash, inputs, document, issued_at)
             SELECT $1, $2, $3,
                 COALESCE((SELECT MAX(revision) FROM advisories WHERE club = $2 AND occurrence = $3), 0) + 1,
                 $4, $5, $6, $7
             WHERE NOT EXISTS (SELECT 1 FROM advisories WHERE club = $2 AND occurrence = $3 AND input_hash = $4)
             AND ($8 < 0 OR
                 COALESCE((SELECT MAX(revision) FROM advisories WHERE club = $2 AND occurrence = $3), 0) = $8)
             ON CONFLICT DO NOTHING",
        )
        .bind(new.id.as_str())
        .bind(new.club.as_str())
        .bind(new.occurrence.as_str())
        .bind(new.input_hash.as_str())
        .bind(new.inputs.as_slice())
        .bind(new.document.as_slice())
        .bind(new.issued_at.timestamp())
        .bind(after.unwrap_or(-1))
        .execute(&self.pool)
        .await?;
        Ok(inserted.rows_affected() == 1)
    }

    /// Whether an advisory with the same inputs was issued for the occurrence.
    async fn is_issued(&self, new: &NewAdvisory) -> Result<bool, sqlx::Error> {
        let known =
            sqlx::query("SELECT 1 FROM advisories WHERE club = $1 AND occurrence = $2 AND input_hash = $3")
                .bind(new.club.as_str())
                .bind(new.occurrence.as_str())
                .bind(new.input_hash.as_str())
                .fetch_optional(&self.pool)
                .await?;
        Ok(known.is_some())
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
            "SELECT id FROM advisories WHERE SUBSTR(id, 1, CAST($1 AS INTEGER)) = $2 ORDER BY id ASC LIMIT $3",
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
