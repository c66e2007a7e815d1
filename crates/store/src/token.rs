//! Tokens: what the holder of a secret may do for one club. Only hashes of secrets are kept.
//!
//! Must not know: who asks, and how a secret is shown.

use crate::run::instant;
use crate::{Store, StoreError, TokenSecret};
use chrono::{DateTime, Utc};
use sqlx::Row;
use sqlx::any::AnyRow;
use std::fmt;

/// Hexadecimal digits of the hash that name a token: whoever finds a secret can tell which token it is.
const ID_DIGITS: usize = 12;

/// What a token allows, at its club.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Scope {
    /// To read a club that is not public.
    Read,
    /// To keep a decision.
    Decide,
    /// To read and write the club's file.
    Club,
}

impl Scope {
    /// All there are.
    pub const ALL: [Self; 3] = [Self::Read, Self::Decide, Self::Club];

    /// In one word, as it is kept and said.
    pub fn word(self) -> &'static str {
        match self {
            Self::Read => "read",
            Self::Decide => "decide",
            Self::Club => "club",
        }
    }

    /// The scope of a word.
    pub fn of_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|scope| scope.word() == word)
    }
}

impl fmt::Display for Scope {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

/// A token to be kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewToken {
    /// The club's short name.
    pub club: String,
    /// What it allows.
    pub scopes: Vec<Scope>,
    /// What it is for, in the operator's words.
    pub label: String,
    /// When it was made.
    pub made_at: DateTime<Utc>,
    /// From when on it allows nothing.
    pub expires_at: Option<DateTime<Utc>>,
}

/// A kept token. Its secret is not kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Token {
    /// Its name: the first digits of its secret's hash.
    pub id: String,
    /// What was kept.
    pub token: NewToken,
    /// When it was revoked.
    pub revoked_at: Option<DateTime<Utc>>,
}

impl Store {
    /// Keeps a token under the hash of its secret and gives its name.
    ///
    /// # Errors
    /// [`StoreError::Database`], also for a secret that is kept already.
    pub async fn put_token(&self, secret: &TokenSecret, new: &NewToken) -> Result<String, StoreError> {
        let hash = secret.hash();
        let id: String = hash.chars().take(ID_DIGITS).collect();
        let scopes: Vec<&str> = new.scopes.iter().map(|scope| scope.word()).collect();
        let _one_writer = self.writer.lock().await;
        sqlx::query(
            "INSERT INTO tokens (id, hash, club, scopes, label, made_at, expires_at) VALUES ($1, $2, $3, $4, $5, $6, $7)",
        )
        .bind(id.as_str())
        .bind(hash)
        .bind(new.club.as_str())
        .bind(scopes.join(" "))
        .bind(new.label.as_str())
        .bind(new.made_at.timestamp())
        .bind(new.expires_at.map(|at| at.timestamp()))
        .execute(&self.pool)
        .await
        .map_err(StoreError::while_doing(format!("keeping a token of {}", new.club)))?;
        Ok(id)
    }

    /// The token of a secret, if it allows anything at a moment: one that was revoked never does again, one that expires
    /// does until that second.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn valid_token(
        &self,
        secret: &TokenSecret,
        at: DateTime<Utc>,
    ) -> Result<Option<Token>, StoreError> {
        let row = sqlx::query(
            "SELECT id, club, scopes, label, made_at, expires_at, revoked_at FROM tokens
             WHERE hash = $1 AND revoked_at IS NULL AND (expires_at IS NULL OR expires_at > $2)",
        )
        .bind(secret.hash())
        .bind(at.timestamp())
        .fetch_optional(&self.pool)
        .await;
        row.and_then(|row| row.as_ref().map(token).transpose())
            .map_err(StoreError::while_doing("looking for a token"))
    }

    /// Every token, by club and the second it was made.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn tokens(&self) -> Result<Vec<Token>, StoreError> {
        let rows = sqlx::query(
            "SELECT id, club, scopes, label, made_at, expires_at, revoked_at FROM tokens
             ORDER BY club ASC, made_at ASC, id ASC",
        )
        .fetch_all(&self.pool)
        .await;
        rows.and_then(|rows| rows.iter().map(token).collect())
            .map_err(StoreError::while_doing("reading the tokens"))
    }

    /// Revokes a token. False if there is none of that name that was not revoked before.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn revoke_token(&self, id: &str, at: DateTime<Utc>) -> Result<bool, StoreError> {
        let _one_writer = self.writer.lock().await;
        let updated = sqlx::query("UPDATE tokens SET revoked_at = $2 WHERE id = $1 AND revoked_at IS NULL")
            .bind(id)
            .bind(at.timestamp())
            .execute(&self.pool)
            .await
            .map_err(StoreError::while_doing(format!("revoking token {id}")))?;
        Ok(updated.rows_affected() == 1)
    }
}

/// A scope that this version does not know allows nothing.
fn token(row: &AnyRow) -> Result<Token, sqlx::Error> {
    let moment = |seconds: Option<i64>| seconds.map(instant).transpose();
    let scopes: String = row.try_get(2)?;
    Ok(Token {
        id: row.try_get(0)?,
        token: NewToken {
            club: row.try_get(1)?,
            scopes: scopes.split(' ').filter_map(Scope::of_word).collect(),
            label: row.try_get(3)?,
            made_at: instant(row.try_get(4)?)?,
            expires_at: moment(row.try_get(5)?)?,
        },
        revoked_at: moment(row.try_get(6)?)?,
    })
}
