//! The outbox: one row for each subscriber of each mailing, and what became of it.
//!
//! Owns: claiming, so that no two senders have one mail at once; the states; how they are counted. Must not know: how a mail is made, how it
//! is sent, how long to wait after a fault. No row holds an address.

use crate::run::instant;
use crate::subscription_link::put_link;
use crate::{NewLink, Store, StoreError};
use chrono::{DateTime, Utc};
use sqlx::Row;
use sqlx::any::AnyRow;

/// After so many mails in a row that its host has refused for good, an address is sent no more until its owner asks anew.
pub const REFUSALS_AT_MOST: i64 = 3;
/// Words of a fault are cut to so many characters: they may come from a server that answers with a book.
const WORDS_AT_MOST: usize = 300;

/// Which mail.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct MailKey {
    /// The club's short name.
    pub club: String,
    /// The mailing.
    pub mailing: String,
    /// To whom.
    pub subscription: String,
}

/// A mail that its claimer alone may send, while the claim lasts.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ClaimedMail {
    /// Which.
    pub key: MailKey,
    /// What the mailing is about.
    pub body: Vec<u8>,
    /// When the mailing was made.
    pub made_at: DateTime<Utc>,
    /// From when on it is of no use.
    pub ends_at: DateTime<Utc>,
    /// How often it was tried to be sent.
    pub attempts: i64,
}

/// What became of a mail.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum MailOutcome {
    /// A server has taken it.
    Sent,
    /// There was nothing to tell this subscriber.
    NothingToTell,
    /// It came to its end before it could be sent.
    TooLate,
    /// Refused for good.
    Refused {
        /// In a word, as it is counted.
        fault: &'static str,
        /// In words, without an address.
        words: String,
        /// Whether it is the address that is refused.
        address: bool,
    },
    /// To be tried again.
    Later {
        /// In a word, as it is counted.
        fault: &'static str,
        /// In words, without an address.
        words: String,
        /// When.
        due_at: DateTime<Utc>,
    },
}

impl Store {
    /// Claims mails that are due and that nobody else has, the longest due first, at most `limit`, until an instant.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn claim_mails(
        &self,
        claim: &str,
        (now, until): (DateTime<Utc>, DateTime<Utc>),
        limit: u16,
    ) -> Result<Vec<ClaimedMail>, StoreError> {
        let doing = || StoreError::while_doing("claiming mails");
        {
            let _one_writer = self.writer.lock().await;
            // The condition stands twice: PostgreSQL looks at it again in a row that another has claimed meanwhile.
            sqlx::query(
                "UPDATE outbox SET claim = $1, claimed_until = $3
                 WHERE state = 'waiting' AND due_at <= $2 AND (claimed_until IS NULL OR claimed_until <= $2)
                 AND (club, mailing, subscription) IN
                     (SELECT club, mailing, subscription FROM outbox
                      WHERE state = 'waiting' AND due_at <= $2 AND (claimed_until IS NULL OR claimed_until <= $2)
                      ORDER BY due_at ASC, subscription ASC LIMIT $4)",
            )
            .bind(claim)
            .bind(now.timestamp())
            .bind(until.timestamp())
            .bind(i64::from(limit))
            .execute(&self.pool)
            .await
            .map_err(doing())?;
        }
        let rows = sqlx::query(
            "SELECT outbox.club, mailing, subscription, body, made_at, ends_at, attempts FROM outbox
             JOIN mailings ON mailings.club = outbox.club AND mailings.name = outbox.mailing
             WHERE claim = $1 AND state = 'waiting' AND claimed_until = $2 ORDER BY due_at ASC, subscription ASC",
        )
        .bind(claim)
        .bind(until.timestamp())
        .fetch_all(&self.pool)
        .await;
        rows.and_then(|rows| rows.iter().map(claimed).collect())
            .map_err(doing())
    }

    /// To be asked before a mail is handed over: counts the attempt, holds the claim until a later instant and keeps the link that the mail
    /// carries. False if the claim has run out or the mail is there no more: then it must not be sent.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn begin_mail(
        &self,
        key: &MailKey,
        claim: &str,
        until: DateTime<Utc>,
        link: &NewLink,
    ) -> Result<bool, StoreError> {
        let _one_writer = self.writer.lock().await;
        let work = async {
            let mut transaction = self.backend.begin_write(&self.pool).await?;
            let begun = sqlx::query(
                "UPDATE outbox SET attempts = attempts + 1, claimed_until = $5
                 WHERE club = $1 AND mailing = $2 AND subscription = $3 AND claim = $4 AND state = 'waiting'
                 AND EXISTS (SELECT 1 FROM subscriptions WHERE id = $3)",
            )
            .bind(key.club.as_str())
            .bind(key.mailing.as_str())
            .bind(key.subscription.as_str())
            .bind(claim)
            .bind(until.timestamp())
            .execute(&mut *transaction)
            .await?;
            let begun = begun.rows_affected() == 1;
            if begun {
                put_link(&mut transaction, &key.subscription, link).await?;
            }
            transaction.commit().await?;
            Ok(begun)
        };
        work.await.map_err(StoreError::while_doing("beginning a mail"))
    }

    /// Notes what became of a claimed mail. Of one that its owner has ended meanwhile nothing is noted but that it was sent.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn end_mail(
        &self,
        key: &MailKey,
        claim: &str,
        outcome: &MailOutcome,
        now: DateTime<Utc>,
    ) -> Result<(), StoreError> {
        let (state, due_at, fault, words) = match outcome {
            MailOutcome::Sent => ("sent", now, None, None),
            MailOutcome::NothingToTell => ("unneeded", now, None, None),
            MailOutcome::TooLate => ("late", now, None, None),
            MailOutcome::Refused { fault, words, .. } => ("refused", now, Some(*fault), Some(words)),
            MailOutcome::Later { fault, words, due_at } => ("waiting", *due_at, Some(*fault), Some(words)),
        };
        let words = words.map(|words| as_kept(words));
        let refusals = match outcome {
            MailOutcome::Sent => Some("refusals = 0"),
            MailOutcome::Refused { address: true, .. } => Some("refusals = refusals + 1"),
            _ => None,
        };
        let _one_writer = self.writer.lock().await;
        let work = async {
            let mut transaction = self.backend.begin_write(&self.pool).await?;
            let ended = sqlx::query(
                "UPDATE outbox SET state = $5, due_at = $6, fault = COALESCE($7, fault), words = COALESCE($8, words),
                     claim = NULL, claimed_until = NULL, noted_at = $9
                 WHERE club = $1 AND mailing = $2 AND subscription = $3 AND claim = $4 AND state = 'waiting'",
            )
            .bind(key.club.as_str())
            .bind(key.mailing.as_str())
            .bind(key.subscription.as_str())
            .bind(claim)
            .bind(state)
            .bind(due_at.timestamp())
            .bind(fault)
            .bind(words)
            .bind(now.timestamp())
            .execute(&mut *transaction)
            .await?;
            if let (1, Some(refusals)) = (ended.rows_affected(), refusals) {
                let statement = format!("UPDATE subscriptions SET {refusals} WHERE id = $1");
                sqlx::query(sqlx::AssertSqlSafe(statement))
                    .bind(key.subscription.as_str())
                    .execute(&mut *transaction)
                    .await?;
            }
            transaction.commit().await
        };
        work.await
            .map_err(StoreError::while_doing("noting what became of a mail"))
    }

    /// Gives back mails that were claimed and not begun, so that they need not wait for the claim to run out.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn release_mails(&self, claim: &str) -> Result<(), StoreError> {
        let _one_writer = self.writer.lock().await;
        sqlx::query(
            "UPDATE outbox SET claim = NULL, claimed_until = NULL WHERE claim = $1 AND state = 'waiting'",
        )
        .bind(claim)
        .execute(&self.pool)
        .await
        .map(drop)
        .map_err(StoreError::while_doing("giving back mails"))
    }

    /// When the next mail is due or its claim runs out; none if none waits.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn next_mail_due(&self) -> Result<Option<DateTime<Utc>>, StoreError> {
        let row = sqlx::query(
            "SELECT MIN(CASE WHEN claimed_until IS NULL OR claimed_until < due_at THEN due_at ELSE claimed_until END)
             FROM outbox WHERE state = 'waiting'",
        )
        .fetch_one(&self.pool)
        .await;
        row.and_then(|row| row.try_get::<Option<i64>, _>(0)?.map(instant).transpose())
            .map_err(StoreError::while_doing("looking when the next mail is due"))
    }
}

/// One line, with an end.
fn as_kept(words: &str) -> String {
    let plain = |letter: char| if letter.is_control() { ' ' } else { letter };
    words.chars().map(plain).take(WORDS_AT_MOST).collect()
}

fn claimed(row: &AnyRow) -> Result<ClaimedMail, sqlx::Error> {
    Ok(ClaimedMail {
        key: MailKey {
            club: row.try_get(0)?,
            mailing: row.try_get(1)?,
            subscription: row.try_get(2)?,
        },
        body: row.try_get(3)?,
        made_at: instant(row.try_get(4)?)?,
        ends_at: instant(row.try_get(5)?)?,
        attempts: row.try_get(6)?,
    })
}
