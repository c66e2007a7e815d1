//! What can go wrong on the shelf: each case names what was being kept or read, and what to do next.

use forecast::SourceId;
use thiserror::Error;

/// A store operation that did not succeed. Nothing half-written is ever visible afterwards.
#[derive(Debug, Error)]
pub enum StoreError {
    /// The address names no database this build can open.
    #[error(
        "cannot use {address:?} as a store: {reason}; give a file path or sqlite://PATH in an existing, writable folder"
    )]
    Address {
        /// The address as given.
        address: String,
        /// Why it cannot be used.
        reason: String,
    },
    /// The database was made by a newer version of this program.
    #[error(
        "the store has schema version {found}, this program knows {known}: run the newer program or another store"
    )]
    TooNew {
        /// Version found in the database.
        found: i64,
        /// Newest version this program knows.
        known: i64,
    },
    /// The database refused or failed.
    #[error(
        "the store failed while {doing}: check free space and permissions, then run again (a rerun is safe)"
    )]
    Database {
        /// What was being done, with run and part where there is one.
        doing: String,
        /// The cause.
        #[source]
        source: sqlx::Error,
    },
    /// A part given to be kept does not agree with itself.
    #[error("part {part} of run {run} of {source_id} was refused: {reason}; nothing was written")]
    Refused {
        /// The feed.
        source_id: SourceId,
        /// The run's reference time.
        run: String,
        /// The part.
        part: u16,
        /// What does not agree.
        reason: String,
    },
    /// A kept value cannot be read back.
    #[error("{what} cannot be read back: prune the run and fetch it again")]
    Unreadable {
        /// What was being read.
        what: String,
        /// The cause.
        #[source]
        source: postcard::Error,
    },
    /// A kept value reads back, but does not fit its own manifest.
    #[error("{what} does not fit its manifest: prune the run and fetch it again")]
    Inconsistent {
        /// What was being read.
        what: String,
    },
    /// An advisory's name is taken by another advisory.
    #[error(
        "advisory {id} is already kept for other inputs; nothing was written (report this: ids must be unique)"
    )]
    IdTaken {
        /// The name.
        id: String,
    },
}

impl StoreError {
    /// A closure that names what was being done when the database failed.
    pub(crate) fn while_doing(doing: impl Into<String>) -> impl FnOnce(sqlx::Error) -> Self {
        let doing = doing.into();
        move |source| Self::Database { doing, source }
    }
}
