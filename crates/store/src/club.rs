//! Club files as seen: append-only versions, source text and hash.

use crate::run::instant;
use crate::{Store, StoreError};
use chrono::{DateTime, Utc};
use sqlx::Row;
use sqlx::any::AnyRow;

/// A club file to be kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewClubVersion {
    /// The club's short name.
    pub slug: String,
    /// Hash of the text.
    pub version: String,
    /// The text as read.
    pub text: String,
    /// When it was seen.
    pub seen_at: DateTime<Utc>,
}

/// A kept club file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ClubVersion {
    /// Which version of this club, counted from 1.
    pub number: i64,
    /// The file.
    pub file: NewClubVersion,
}

impl Store {
    /// Keeps a club file as a new version. Returns false if it is the newest version already.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn put_club_version(&self, new: &NewClubVersion) -> Result<bool, StoreError> {
        let doing =
            || StoreError::while_doing(format!("keeping version {} of club {}", new.version, new.slug));
        let _one_writer = self.writer.lock().await;
        // Another process may take the number in between: then this one comes after it.
        loop {
            if self.insert_club_version(new).await.map_err(doing())? {
                return Ok(true);
            }
            if self.newest_hash(&new.slug).await.map_err(doing())?.as_ref() == Some(&new.version) {
                return Ok(false);
            }
        }
    }

    /// Keeps a club file as the version after an expected one; after none, if the club has no file yet. False, and nothing
    /// is kept, if another is the newest by now: of several that expect the same, one succeeds.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn replace_club_version(
        &self,
        new: &NewClubVersion,
        expected: Option<&str>,
    ) -> Result<bool, StoreError> {
        let _one_writer = self.writer.lock().await;
        // One statement: the number of the next version is taken only while the newest one is as expected, and once.
        let inserted = sqlx::query(
            "INSERT INTO club_versions (slug, number, version, text, seen_at)
             SELECT $1, COALESCE((SELECT MAX(number) FROM club_versions WHERE slug = $1), 0) + 1, $2, $3, $4
             WHERE COALESCE((SELECT version FROM club_versions WHERE slug = $1 ORDER BY number DESC LIMIT 1), '') = $5
             ON CONFLICT DO NOTHING",
        )
        .bind(new.slug.as_str())
        .bind(new.version.as_str())
        .bind(new.text.as_str())
        .bind(new.seen_at.timestamp())
        .bind(expected.unwrap_or_default())
        .execute(&self.pool)
        .await
        .map_err(StoreError::while_doing(format!(
            "keeping version {} of club {}",
            new.version, new.slug
        )))?;
        Ok(inserted.rows_affected() == 1)
    }

    async fn insert_club_version(&self, new: &NewClubVersion) -> Result<bool, sqlx::Error> {
        let inserted = sqlx::query(
            "INSERT INTO club_versions (slug, number, version, text, seen_at)
             SELECT $1, COALESCE((SELECT MAX(number) FROM club_versions WHERE slug = $1), 0) + 1, $2, $3, $4
             WHERE NOT EXISTS (SELECT 1 FROM club_versions WHERE slug = $1 AND version = $2
                 AND number = (SELECT MAX(number) FROM club_versions WHERE slug = $1))
             ON CONFLICT DO NOTHING",
        )
        .bind(new.slug.as_str())
        .bind(new.version.as_str())
        .bind(new.text.as_str())
        .bind(new.seen_at.timestamp())
        .execute(&self.pool)
        .await?;
        Ok(inserted.rows_affected() == 1)
    }

    async fn newest_hash(&self, slug: &str) -> Result<Option<String>, sqlx::Error> {
        let newest =
            sqlx::query("SELECT version FROM club_versions WHERE slug = $1 ORDER BY number DESC LIMIT 1")
                .bind(slug)
                .fetch_optional(&self.pool)
                .await?;
        newest.map(|row| row.try_get(0)).transpose()
    }

    /// The short names of the clubs whose files were seen, as of an instant, ascending.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn club_slugs(&self, as_of: DateTime<Utc>) -> Result<Vec<String>, StoreError> {
        let rows =
            sqlx::query("SELECT DISTINCT slug FROM club_versions WHERE seen_at <= $1 ORDER BY slug ASC")
                .bind(as_of.timestamp())
                .fetch_all(&self.pool)
                .await;
        rows.and_then(|rows| rows.iter().map(|row| row.try_get(0)).collect())
            .map_err(StoreError::while_doing("listing the clubs"))
    }

    /// The club file with this hash, if it was ever seen.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn club_version(&self, slug: &str, version: &str) -> Result<Option<ClubVersion>, StoreError> {
        let row = sqlx::query(
            "SELECT slug, version, text, seen_at, number FROM club_versions
             WHERE slug = $1 AND version = $2 ORDER BY number ASC LIMIT 1",
        )
        .bind(slug)
        .bind(version)
        .fetch_optional(&self.pool)
        .await;
        let doing = || StoreError::while_doing(format!("reading version {version} of club {slug}"));
        row.map_err(doing())?
            .as_ref()
            .map(club_version)
            .transpose()
            .map_err(doing())
    }

    /// The versions of a club before a number, newest first, at most `limit`, without their texts: number, hash and when
    /// each was seen.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn club_versions(
        &self,
        slug: &str,
        (before, limit): (i64, u16),
    ) -> Result<Vec<(i64, String, DateTime<Utc>)>, StoreError> {
        let rows = sqlx::query(
            "SELECT number, version, seen_at FROM club_versions
             WHERE slug = $1 AND number < $2 ORDER BY number DESC LIMIT $3",
        )
        .bind(slug)
        .bind(before)
        .bind(i64::from(limit))
        .fetch_all(&self.pool)
        .await;
        let version = |row: &AnyRow| -> Result<_, sqlx::Error> {
            Ok((row.try_get(0)?, row.try_get(1)?, instant(row.try_get(2)?)?))
        };
        rows.and_then(|rows| rows.iter().map(version).collect())
            .map_err(StoreError::while_doing(format!(
                "reading the versions of club {slug}"
            )))
    }

    /// The newest club file seen, as of an instant.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn latest_club_version(
        &self,
        slug: &str,
        as_of: DateTime<Utc>,
    ) -> Result<Option<ClubVersion>, StoreError> {
        let row = sqlx::query(
            "SELECT slug, version, text, seen_at, number FROM club_versions
             WHERE slug = $1 AND seen_at <= $2 ORDER BY number DESC LIMIT 1",
        )
        .bind(slug)
        .bind(as_of.timestamp())
        .fetch_optional(&self.pool)
        .await;
        let doing = || StoreError::while_doing(format!("reading the newest version of club {slug}"));
        row.map_err(doing())?
            .as_ref()
            .map(club_version)
            .transpose()
            .map_err(doing())
    }
}

fn club_version(row: &AnyRow) -> Result<ClubVersion, sqlx::Error> {
    Ok(ClubVersion {
        number: row.try_get(4)?,
        file: NewClubVersion {
            slug: row.try_get(0)?,
            version: row.try_get(1)?,
            text: row.try_get(2)?,
            seen_at: instant(row.try_get(3)?)?,
        },
    })
}
