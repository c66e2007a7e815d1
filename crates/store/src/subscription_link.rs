//! Links in mails that let their holder confirm a subscription, or change and end it. Only hashes of their secrets are kept.
//!
//! Must not know: where a link leads, how it is shown.

use crate::subscription::subscription;
use crate::{Store, StoreError, Subscription, TokenSecret};
use chrono::{DateTime, Utc};
use sqlx::AnyConnection;

/// What the holder of a link may do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LinkPurpose {
    /// Confirm what was asked for.
    Confirm,
    /// Choose anew, and end it.
    Manage,
}

impl LinkPurpose {
    fn word(self) -> &'static str {
        match self {
            Self::Confirm => "confirm",
            Self::Manage => "manage",
        }
    }
}

/// A link to be kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewLink {
    /// Its secret.
    pub secret: TokenSecret,
    /// What it is for.
    pub purpose: LinkPurpose,
    /// From when on it allows nothing.
    pub expires_at: DateTime<Utc>,
}

impl Store {
    /// The subscription that a link leads to, if it allows this at a moment.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn subscription_of_link(
        &self,
        secret: &TokenSecret,
        purpose: LinkPurpose,
        at: DateTime<Utc>,
    ) -> Result<Option<Subscription>, StoreError> {
        let row = sqlx::query(
            "SELECT subscriptions.id, club, address, choices, asked_choices, confirmed_at, refusals FROM subscriptions
             JOIN subscription_links ON subscription_links.subscription = subscriptions.id
             WHERE hash = $1 AND purpose = $2 AND expires_at > $3",
        )
        .bind(secret.hash())
        .bind(purpose.word())
        .bind(at.timestamp())
        .fetch_optional(&self.pool)
        .await;
        row.and_then(|row| row.as_ref().map(subscription).transpose())
            .map_err(StoreError::while_doing("looking for the subscription of a link"))
    }
}

/// Keeps a link of a subscription.
pub(crate) async fn put_link(
    transaction: &mut AnyConnection,
    subscription: &str,
    link: &NewLink,
) -> Result<(), sqlx::Error> {
    sqlx::query(
        "INSERT INTO subscription_links (hash, subscription, purpose, expires_at) VALUES ($1, $2, $3, $4)",
    )
    .bind(link.secret.hash())
    .bind(subscription)
    .bind(link.purpose.word())
    .bind(link.expires_at.timestamp())
    .execute(&mut *transaction)
    .await
    .map(drop)
}
