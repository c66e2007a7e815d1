//! Notes of fetching: what went wrong or right with a source, in words, so that anybody can ask for the last of it.

use crate::run::instant;
use crate::{Store, StoreError};
use chrono::{DateTime, Utc};
use forecast::SourceId;
use sqlx::Row;
use sqlx::any::AnyRow;

/// Words of a note are cut to this many characters: they may come from a server that answers with a book.
pub const NOTE_CHARACTERS: usize = 1000;

/// How bad it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Severity {
    /// All is well.
    Info,
    /// Fetching went on, with less.
    Warning,
    /// Fetching ended.
    Error,
}

/// A note of fetching from a source.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FetchNote {
    /// The feed.
    pub source: SourceId,
    /// The reference time of the run it is about, where it is about one.
    pub run: Option<DateTime<Utc>>,
    /// When it was noted; kept to the second.
    pub at: DateTime<Utc>,
    /// What is the matter, in words.
    pub words: String,
    /// How bad it is.
    pub severity: Severity,
}

impl Store {
    /// Keeps a note, its control characters turned into spaces and cut to [`NOTE_CHARACTERS`]. Returns false, and changes
    /// nothing, if the same note is kept already.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn put_note(&self, note: &FetchNote) -> Result<bool, StoreError> {
        let doing = || StoreError::while_doing(format!("keeping a note of fetching from {}", note.source));
        let words = as_kept(&note.words);
        let _one_writer = self.writer.lock().await;
        // Another process may take the number in between: then this one comes after it.
        loop {
            if self.insert_note(note, &words).await.map_err(doing())? {
                return Ok(true);
            }
            if self.is_noted(note, &words).await.map_err(doing())? {
                return Ok(false);
            }
        }
    }

    /// The last note of fetching from a source, as of an instant; of several in one second, the one put last.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn last_note(
        &self,
        source: &SourceId,
        as_of: DateTime<Utc>,
    ) -> Result<Option<FetchNote>, StoreError> {
        let row = sqlx::query(
            "SELECT reference, noted_at, words, severity FROM fetch_notes
             WHERE source = $1 AND noted_at <= $2 ORDER BY noted_at DESC, number DESC LIMIT 1",
        )
        .bind(source.as_str())
        .bind(as_of.timestamp())
        .fetch_optional(&self.pool)
        .await;
        row.and_then(|row| row.as_ref().map(|row| note_of(source, row)).transpose())
            .map_err(StoreError::while_doing(format!(
                "reading the last note of {source}"
            )))
    }

    async fn insert_note(&self, note: &FetchNote, words: &str) -> Result<bool, sqlx::Error> {
        let inserted = sqlx::query(
            "INSERT INTO fetch_notes (source, number, reference, noted_at, words, severity)
             SELECT $1, COALESCE((SELECT MAX(number) FROM fetch_notes WHERE source = $1), 0) + 1, $2, $3, $4, $5
             WHERE NOT EXISTS (SELECT 1 FROM fetch_notes WHERE source = $1 AND reference IS NOT DISTINCT FROM $2
                 AND noted_at = $3 AND words = $4 AND severity = $5)
             ON CONFLICT DO NOTHING",
        )
        .bind(note.source.as_str())
        .bind(note.run.map(|run| run.timestamp()))
        .bind(note.at.timestamp())
        .bind(words)
        .bind(code_of(note.severity))
        .execute(&self.pool)
        .await?;
        Ok(inserted.rows_affected() == 1)
    }

    async fn is_noted(&self, note: &FetchNote, words: &str) -> Result<bool, sqlx::Error> {
        let known = sqlx::query(
            "SELECT 1 FROM fetch_notes WHERE source = $1 AND reference IS NOT DISTINCT FROM $2
             AND noted_at = $3 AND words = $4 AND severity = $5",
        )
        .bind(note.source.as_str())
        .bind(note.run.map(|run| run.timestamp()))
        .bind(note.at.timestamp())
        .bind(words)
        .bind(code_of(note.severity))
        .fetch_optional(&self.pool)
        .await?;
        Ok(known.is_some())
    }
}

/// Words as they can be kept and shown: no line breaks, none of the NULs that PostgreSQL refuses, and an end.
fn as_kept(words: &str) -> String {
    let plain = |letter: char| if letter.is_control() { ' ' } else { letter };
    words.chars().map(plain).take(NOTE_CHARACTERS).collect()
}

fn code_of(severity: Severity) -> i64 {
    match severity {
        Severity::Info => 0,
        Severity::Warning => 1,
        Severity::Error => 2,
    }
}

fn note_of(source: &SourceId, row: &AnyRow) -> Result<FetchNote, sqlx::Error> {
    let severity = match row.try_get::<i64, _>(3)? {
        0 => Severity::Info,
        1 => Severity::Warning,
        2 => Severity::Error,
        other => return Err(sqlx::Error::Decode(format!("{other} is no severity").into())),
    };
    Ok(FetchNote {
        source: source.clone(),
        run: row.try_get::<Option<i64>, _>(0)?.map(instant).transpose()?,
        at: instant(row.try_get(1)?)?,
        words: row.try_get(2)?,
        severity,
    })
}
