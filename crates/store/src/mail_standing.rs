//! How the mail stands: how many wait, were sent, were refused, and why the last of them waits.
//!
//! Must not know: whose mail it is.

use crate::run::instant;
use crate::{Store, StoreError};
use chrono::{DateTime, Utc};
use sqlx::Row;
use sqlx::any::AnyRow;

/// So many mails in one state.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MailCount {
    /// `waiting`, `sent`, `refused`, `late` or `unneeded`.
    pub state: String,
    /// Of those that wait after a fault or were refused: the fault, in a word.
    pub fault: Option<String>,
    /// How many.
    pub mails: i64,
}

/// What went wrong last with a mail that waits or was refused.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MailTrouble {
    /// In a word.
    pub fault: String,
    /// In words, without an address.
    pub words: String,
    /// When.
    pub at: DateTime<Utc>,
    /// It waits to be tried again; otherwise it was refused for good.
    pub waits: bool,
}

/// How the mail stands.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct MailStanding {
    /// By state and fault; none of what there is none of.
    pub counts: Vec<MailCount>,
    /// Since when the longest waiting mail waits.
    pub waits_since: Option<DateTime<Utc>>,
    /// What went wrong last, if anything that was not mended since.
    pub trouble: Option<MailTrouble>,
}

impl Store {
    /// How the mail stands, of what is remembered.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn mail_standing(&self) -> Result<MailStanding, StoreError> {
        let work = async {
            let counts = sqlx::query(
                "SELECT state, CASE WHEN state IN ('waiting', 'refused') THEN fault ELSE NULL END AS reason, COUNT(*)
                 FROM outbox GROUP BY state, reason ORDER BY state ASC, reason ASC",
            )
            .fetch_all(&self.pool)
            .await?;
            let since = sqlx::query(
                "SELECT MIN(made_at) FROM outbox
                 JOIN mailings ON mailings.club = outbox.club AND mailings.name = outbox.mailing WHERE state = 'waiting'",
            )
            .fetch_one(&self.pool)
            .await?;
            let trouble = sqlx::query(
                "SELECT fault, words, noted_at, state FROM outbox
                 WHERE state IN ('waiting', 'refused') AND fault IS NOT NULL ORDER BY noted_at DESC, subscription ASC LIMIT 1",
            )
            .fetch_optional(&self.pool)
            .await?;
            Ok(MailStanding {
                counts: counts.iter().map(count).collect::<Result<_, sqlx::Error>>()?,
                waits_since: since.try_get::<Option<i64>, _>(0)?.map(instant).transpose()?,
                trouble: trouble.as_ref().map(trouble_of).transpose()?,
            })
        };
        work.await
            .map_err(StoreError::while_doing("reading how the mail stands"))
    }
}

fn count(row: &AnyRow) -> Result<MailCount, sqlx::Error> {
    Ok(MailCount {
        state: row.try_get(0)?,
        fault: row.try_get(1)?,
        mails: row.try_get(2)?,
    })
}

fn trouble_of(row: &AnyRow) -> Result<MailTrouble, sqlx::Error> {
    Ok(MailTrouble {
        fault: row.try_get(0)?,
        words: row.try_get::<Option<String>, _>(1)?.unwrap_or_default(),
        at: instant(row.try_get(2)?)?,
        waits: row.try_get::<String, _>(3)? == "waiting",
    })
}
