//! Who is sent a club's mail: addresses with what their owners chose, confirmed or not yet.
//!
//! Must not know: how a mail is made or sent. An address stands in no error, and when its owner ends the subscription nothing of it
//! stays: neither the address nor links nor what was still to be sent to it.

use crate::backend::Backend;
use crate::run::instant;
use crate::{Store, StoreError};
use chrono::{DateTime, TimeDelta, Utc};
use club::{Choices, EmailAddress};
use sqlx::any::AnyRow;
use sqlx::{AnyConnection, Executor, Row};

/// Confirmations asked for of one address at one club within [`ASKED_WITHIN`], at most: whoever types a stranger's address
/// can have no more mails sent to it (no source: the project's own rule).
pub const CONFIRMATIONS_AT_MOST: i64 = 3;
/// See [`CONFIRMATIONS_AT_MOST`].
const ASKED_WITHIN: TimeDelta = TimeDelta::hours(24);
/// An address that was never confirmed is forgotten after this; longer than its link and [`ASKED_WITHIN`] hold.
const UNCONFIRMED_FOR: TimeDelta = TimeDelta::hours(72);

/// What somebody asks for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewSubscription {
    /// A name that nobody can guess, should the address be new here.
    pub id: String,
    /// The club's short name.
    pub club: String,
    /// Where to.
    pub address: EmailAddress,
    /// What is wanted.
    pub choices: Choices,
    /// When it was asked for.
    pub at: DateTime<Utc>,
}

/// A subscription.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Subscription {
    /// Its name; it says nothing of the address.
    pub id: String,
    /// The club's short name.
    pub club: String,
    /// Where to.
    pub address: EmailAddress,
    /// What its owner has confirmed; of one not yet confirmed, what was asked for.
    pub choices: Choices,
    /// What waits to be confirmed in its place.
    pub asked: Option<Choices>,
    /// Since when it is confirmed.
    pub confirmed_at: Option<DateTime<Utc>>,
    /// Mails in a row that the address's host has refused for good.
    pub refusals: i64,
}

impl Store {
    /// Keeps what was asked for and puts a mail to confirm it into the outbox. Choices of a subscription that is confirmed stay as
    /// they are until these are. False, and nothing is kept, for an address asked for too often of late.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn ask_for_subscription(&self, new: &NewSubscription) -> Result<bool, StoreError> {
        let _one_writer = self.writer.lock().await;
        let work = async {
            let mut transaction = self.backend.begin_write(&self.pool).await?;
            let kept = ask(&mut transaction, new).await?;
            transaction.commit().await?;
            Ok(kept)
        };
        work.await.map_err(StoreError::while_doing(format!(
            "keeping a subscription to {}",
            new.club
        )))
    }

    /// The subscription of this name.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn subscription(&self, id: &str) -> Result<Option<Subscription>, StoreError> {
        let row = sqlx::query(
            "SELECT id, club, address, choices, asked_choices, confirmed_at, refusals FROM subscriptions WHERE id = $1",
        )
        .bind(id)
        .fetch_optional(&self.pool)
        .await;
        row.and_then(|row| row.as_ref().map(subscription).transpose())
            .map_err(StoreError::while_doing("reading a subscription"))
    }

    /// The subscriptions of a club that are confirmed, by name.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn confirmed_subscriptions(&self, club: &str) -> Result<Vec<Subscription>, StoreError> {
        let rows = sqlx::query(
            "SELECT id, club, address, choices, asked_choices, confirmed_at, refusals FROM subscriptions
             WHERE club = $1 AND confirmed_at IS NOT NULL ORDER BY id ASC",
        )
        .bind(club)
        .fetch_all(&self.pool)
        .await;
        rows.and_then(|rows| rows.iter().map(subscription).collect())
            .map_err(StoreError::while_doing(format!(
                "reading the subscriptions of {club}"
            )))
    }

    /// Its owner has confirmed it: what was asked for last holds. False if it is there no more.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn confirm_subscription(&self, id: &str, at: DateTime<Utc>) -> Result<bool, StoreError> {
        let _one_writer = self.writer.lock().await;
        let updated = sqlx::query(
            "UPDATE subscriptions SET choices = COALESCE(asked_choices, choices), asked_choices = NULL,
                 confirmed_at = COALESCE(confirmed_at, $2), refusals = 0
             WHERE id = $1",
        )
        .bind(id)
        .bind(at.timestamp())
        .execute(&self.pool)
        .await
        .map_err(StoreError::while_doing("confirming a subscription"))?;
        Ok(updated.rows_affected() == 1)
    }

    /// Its owner chooses anew. False if it is there no more.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn choose_for_subscription(&self, id: &str, choices: &Choices) -> Result<bool, StoreError> {
        let doing = || StoreError::while_doing("keeping the choices of a subscription");
        let text = choices_text(choices).map_err(doing())?;
        let _one_writer = self.writer.lock().await;
        let updated = sqlx::query(
            "UPDATE subscriptions SET choices = $2, asked_choices = NULL, refusals = 0 WHERE id = $1",
        )
        .bind(id)
        .bind(text)
        .execute(&self.pool)
        .await
        .map_err(doing())?;
        Ok(updated.rows_affected() == 1)
    }

    /// Ends a subscription: its address, its links and what was still to be sent to it are gone. Of what was sent there stays that
    /// something was. False if it was there no more.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn end_subscription(&self, id: &str) -> Result<bool, StoreError> {
        let _one_writer = self.writer.lock().await;
        let work = async {
            let mut transaction = self.backend.begin_write(&self.pool).await?;
            let ended = end(&mut transaction, self.backend, id).await?;
            transaction.commit().await?;
            if let Some(settings) = self.backend.settings_of_clearing() {
                self.pool.execute(settings).await?;
            }
            Ok(ended)
        };
        work.await
            .map_err(StoreError::while_doing("ending a subscription"))
    }

    /// Forgets addresses that were never confirmed, links that have expired, and mailings that ended before an instant with what
    /// became of their mails.
    ///
    /// # Errors
    /// [`StoreError::Database`]; a rerun goes on.
    pub async fn prune_mail(
        &self,
        ended_before: DateTime<Utc>,
        now: DateTime<Utc>,
    ) -> Result<(), StoreError> {
        let _one_writer = self.writer.lock().await;
        let work = async {
            let mut transaction = self.backend.begin_write(&self.pool).await?;
            let unconfirmed =
                sqlx::query("SELECT id FROM subscriptions WHERE confirmed_at IS NULL AND asked_at < $1")
                    .bind((now - UNCONFIRMED_FOR).timestamp())
                    .fetch_all(&mut *transaction)
                    .await?;
            for row in &unconfirmed {
                end(&mut transaction, self.backend, row.try_get(0)?).await?;
            }
            sqlx::query("DELETE FROM subscription_links WHERE expires_at <= $1")
                .bind(now.timestamp())
                .execute(&mut *transaction)
                .await?;
            for statement in [
                "DELETE FROM outbox WHERE EXISTS (SELECT 1 FROM mailings
                     WHERE mailings.club = outbox.club AND mailings.name = outbox.mailing AND ends_at < $1)",
                "DELETE FROM mailings WHERE ends_at < $1",
                "DELETE FROM told_of_sessions WHERE noted_at < $1",
            ] {
                sqlx::query(statement)
                    .bind(ended_before.timestamp())
                    .execute(&mut *transaction)
                    .await?;
            }
            transaction.commit().await
        };
        work.await.map_err(StoreError::while_doing("forgetting old mail"))
    }
}

async fn ask(transaction: &mut AnyConnection, new: &NewSubscription) -> Result<bool, sqlx::Error> {
    let key = new.address.key();
    let choices = choices_text(&new.choices)?;
    let id = match known(transaction, &new.club, &key).await? {
        Some(id) => id,
        None => insert(transaction, new, &key, &choices).await?,
    };
    let since = (new.at - ASKED_WITHIN).timestamp();
    let asked = sqlx::query(
        "SELECT COUNT(*) FROM outbox WHERE subscription = $1 AND mailing LIKE 'confirm/%' AND noted_at > $2",
    )
    .bind(id.as_str())
    .bind(since)
    .fetch_one(&mut *transaction)
    .await?;
    let asked: i64 = asked.try_get(0)?;
    if asked >= CONFIRMATIONS_AT_MOST {
        return Ok(false);
    }
    sqlx::query("UPDATE subscriptions SET asked_choices = $2, asked_at = $3 WHERE id = $1")
        .bind(id.as_str())
        .bind(choices)
        .bind(new.at.timestamp())
        .execute(&mut *transaction)
        .await?;
    crate::mailing::put_confirmation(transaction, &new.club, &id, new.at).await?;
    Ok(true)
}

async fn known(
    transaction: &mut AnyConnection,
    club: &str,
    key: &str,
) -> Result<Option<String>, sqlx::Error> {
    let row = sqlx::query("SELECT id FROM subscriptions WHERE club = $1 AND address_key = $2")
        .bind(club)
        .bind(key)
        .fetch_optional(&mut *transaction)
        .await?;
    row.map(|row| row.try_get(0)).transpose()
}

/// Of two that ask for one new address at once, the second is given the first one's.
async fn insert(
    transaction: &mut AnyConnection,
    new: &NewSubscription,
    key: &str,
    choices: &str,
) -> Result<String, sqlx::Error> {
    sqlx::query(
        "INSERT INTO subscriptions (id, club, address, address_key, choices, asked_at, refusals)
         VALUES ($1, $2, $3, $4, $5, $6, 0) ON CONFLICT (club, address_key) DO NOTHING",
    )
    .bind(new.id.as_str())
    .bind(new.club.as_str())
    .bind(new.address.exposed())
    .bind(key)
    .bind(choices)
    .bind(new.at.timestamp())
    .execute(&mut *transaction)
    .await?;
    known(transaction, &new.club, key)
        .await?
        .ok_or(sqlx::Error::RowNotFound)
}

/// On SQLite what is deleted is written over: in its file nothing of the address is left once the log beside it was taken in.
async fn end(transaction: &mut AnyConnection, backend: Backend, id: &str) -> Result<bool, sqlx::Error> {
    if let Some(settings) = backend.settings_of_secrecy(true) {
        transaction.execute(settings).await?;
    }
    for statement in [
        "DELETE FROM subscription_links WHERE subscription = $1",
        "DELETE FROM outbox WHERE subscription = $1 AND state = 'waiting'",
    ] {
        sqlx::query(statement).bind(id).execute(&mut *transaction).await?;
    }
    let deleted = sqlx::query("DELETE FROM subscriptions WHERE id = $1")
        .bind(id)
        .execute(&mut *transaction)
        .await?;
    if let Some(settings) = backend.settings_of_secrecy(false) {
        transaction.execute(settings).await?;
    }
    Ok(deleted.rows_affected() == 1)
}

/// Never fails for choices that are some.
fn choices_text(choices: &Choices) -> Result<String, sqlx::Error> {
    serde_json::to_string(choices).map_err(|error| sqlx::Error::Encode(error.into()))
}

/// Reads id, club, address, choices, asked choices, confirmation and refusals. An error names no address.
pub(crate) fn subscription(row: &AnyRow) -> Result<Subscription, sqlx::Error> {
    let choices = |text: &str| serde_json::from_str(text).map_err(|error| sqlx::Error::Decode(error.into()));
    let address: String = row.try_get(2)?;
    let asked: Option<String> = row.try_get(4)?;
    Ok(Subscription {
        id: row.try_get(0)?,
        club: row.try_get(1)?,
        address: EmailAddress::parse(&address).map_err(|error| sqlx::Error::Decode(error.into()))?,
        choices: choices(&row.try_get::<String, _>(3)?)?,
        asked: asked.as_deref().map(choices).transpose()?,
        confirmed_at: row.try_get::<Option<i64>, _>(5)?.map(instant).transpose()?,
        refusals: row.try_get(6)?,
    })
}
