//! What is to be mailed to many: a club's daily mail, a change of a session; and to one: please confirm. Each is made once, however
//! many processes find that it is due.
//!
//! Must not know: what a body says, when anything is due. What becomes of each mail is `outbox`'s.

use crate::{Store, StoreError};
use chrono::{DateTime, TimeDelta, Utc};
use sqlx::{AnyConnection, Row};

/// A mail to confirm is of no use once its link has expired and another can be asked for.
const CONFIRMATION_FOR: TimeDelta = TimeDelta::hours(24);

/// A mailing to be made.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewMailing {
    /// The club's short name.
    pub club: String,
    /// Its name, unique at the club: by it, it is made once.
    pub name: String,
    /// What it is about.
    pub body: Vec<u8>,
    /// When it was made.
    pub made_at: DateTime<Utc>,
    /// From when on it is of no use: what has not gone out then, does not.
    pub ends_at: DateTime<Utc>,
}

/// What subscribers were told last of a session.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ToldOfSession {
    /// Which telling it was, counted from 1.
    pub version: i64,
    /// What.
    pub document: Vec<u8>,
}

impl Store {
    /// Makes a mailing with a mail in the outbox for every confirmed subscription of its club. False if it was made before.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn put_mailing(&self, new: &NewMailing) -> Result<bool, StoreError> {
        let _one_writer = self.writer.lock().await;
        let work = async {
            let mut transaction = self.backend.begin_write(&self.pool).await?;
            let made = put(&mut transaction, new).await?;
            transaction.commit().await?;
            Ok(made)
        };
        work.await.map_err(StoreError::while_doing(format!(
            "making the mailing {} of {}",
            new.name, new.club
        )))
    }

    /// Whether a mailing was made.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn has_mailing(&self, club: &str, name: &str) -> Result<bool, StoreError> {
        let row = sqlx::query("SELECT 1 FROM mailings WHERE club = $1 AND name = $2")
            .bind(club)
            .bind(name)
            .fetch_optional(&self.pool)
            .await;
        row.map(|row| row.is_some())
            .map_err(StoreError::while_doing(format!(
                "looking for the mailings of {club}"
            )))
    }

    /// What subscribers were told last of a session.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn told_of_session(
        &self,
        club: &str,
        occurrence: &str,
    ) -> Result<Option<ToldOfSession>, StoreError> {
        let row =
            sqlx::query("SELECT version, document FROM told_of_sessions WHERE club = $1 AND occurrence = $2")
                .bind(club)
                .bind(occurrence)
                .fetch_optional(&self.pool)
                .await;
        let told = |row: sqlx::any::AnyRow| -> Result<ToldOfSession, sqlx::Error> {
            Ok(ToldOfSession {
                version: row.try_get(0)?,
                document: row.try_get(1)?,
            })
        };
        row.and_then(|row| row.map(told).transpose())
            .map_err(StoreError::while_doing(format!(
                "reading what was told of {occurrence}"
            )))
    }

    /// Notes what subscribers are told of a session, and makes the mailing that tells it, if one does. False, and nothing is done, if
    /// another process has told something since `after`.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn tell_of_session(
        &self,
        (club, occurrence): (&str, &str),
        after: Option<i64>,
        document: &[u8],
        (mailing, at): (Option<&NewMailing>, DateTime<Utc>),
    ) -> Result<bool, StoreError> {
        let _one_writer = self.writer.lock().await;
        let work = async {
            let mut transaction = self.backend.begin_write(&self.pool).await?;
            let noted = note(&mut transaction, (club, occurrence), after, (document, at)).await?;
            if noted && let Some(mailing) = mailing {
                put(&mut transaction, mailing).await?;
            }
            transaction.commit().await?;
            Ok(noted)
        };
        work.await.map_err(StoreError::while_doing(format!(
            "noting what is told of {occurrence}"
        )))
    }
}

async fn note(
    transaction: &mut AnyConnection,
    (club, occurrence): (&str, &str),
    after: Option<i64>,
    (document, at): (&[u8], DateTime<Utc>),
) -> Result<bool, sqlx::Error> {
    let statement = match after {
        None => {
            "INSERT INTO told_of_sessions (club, occurrence, version, document, noted_at)
             VALUES ($1, $2, $3 + 1, $4, $5) ON CONFLICT DO NOTHING"
        }
        Some(_) => {
            "UPDATE told_of_sessions SET version = $3 + 1, document = $4, noted_at = $5
             WHERE club = $1 AND occurrence = $2 AND version = $3"
        }
    };
    let noted = sqlx::query(statement)
        .bind(club)
        .bind(occurrence)
        .bind(after.unwrap_or(0))
        .bind(document)
        .bind(at.timestamp())
        .execute(&mut *transaction)
        .await?;
    Ok(noted.rows_affected() == 1)
}

/// The mailing first: of two processes that make it at once, the second waits for the first and finds it made.
async fn put(transaction: &mut AnyConnection, new: &NewMailing) -> Result<bool, sqlx::Error> {
    if !insert(transaction, new).await? {
        return Ok(false);
    }
    sqlx::query(
        "INSERT INTO outbox (club, mailing, subscription, state, attempts, due_at, noted_at)
         SELECT club, $2, id, 'waiting', 0, $3, $3 FROM subscriptions
         WHERE club = $1 AND confirmed_at IS NOT NULL AND refusals < $4",
    )
    .bind(new.club.as_str())
    .bind(new.name.as_str())
    .bind(new.made_at.timestamp())
    .bind(crate::outbox::REFUSALS_AT_MOST)
    .execute(&mut *transaction)
    .await?;
    Ok(true)
}

async fn insert(transaction: &mut AnyConnection, new: &NewMailing) -> Result<bool, sqlx::Error> {
    let inserted = sqlx::query(
        "INSERT INTO mailings (club, name, body, made_at, ends_at) VALUES ($1, $2, $3, $4, $5)
         ON CONFLICT DO NOTHING",
    )
    .bind(new.club.as_str())
    .bind(new.name.as_str())
    .bind(new.body.as_slice())
    .bind(new.made_at.timestamp())
    .bind(new.ends_at.timestamp())
    .execute(&mut *transaction)
    .await?;
    Ok(inserted.rows_affected() == 1)
}

/// A mail to one: please confirm. One that waits to go out is not joined by another.
pub(crate) async fn put_confirmation(
    transaction: &mut AnyConnection,
    club: &str,
    subscription: &str,
    at: DateTime<Utc>,
) -> Result<(), sqlx::Error> {
    let waiting = sqlx::query(
        "SELECT 1 FROM outbox WHERE subscription = $1 AND state = 'waiting' AND mailing LIKE 'confirm/%' LIMIT 1",
    )
    .bind(subscription)
    .fetch_optional(&mut *transaction)
    .await?;
    if waiting.is_some() {
        return Ok(());
    }
    let count =
        sqlx::query("SELECT COUNT(*) FROM outbox WHERE subscription = $1 AND mailing LIKE 'confirm/%'")
            .bind(subscription)
            .fetch_one(&mut *transaction)
            .await?;
    let number: i64 = count.try_get(0)?;
    let new = NewMailing {
        club: club.to_owned(),
        name: format!("confirm/{subscription}/{}", number + 1),
        body: Vec::new(),
        made_at: at,
        ends_at: at + CONFIRMATION_FOR,
    };
    insert(transaction, &new).await?;
    sqlx::query(
        "INSERT INTO outbox (club, mailing, subscription, state, attempts, due_at, noted_at)
         VALUES ($1, $2, $3, 'waiting', 0, $4, $4) ON CONFLICT DO NOTHING",
    )
    .bind(club)
    .bind(new.name.as_str())
    .bind(subscription)
    .bind(at.timestamp())
    .execute(&mut *transaction)
    .await
    .map(drop)
}
