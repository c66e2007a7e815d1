//! What can go wrong while advising.

use advisory::AdvisoryError;
use store::StoreError;
use thiserror::Error;

/// What can go wrong while advising.
#[derive(Debug, Error)]
pub enum AdvisorError {
    /// The store.
    #[error("the store failed")]
    Store(#[from] StoreError),
    /// The document.
    #[error("advisory of {occurrence}")]
    Advisory {
        /// The occurrence.
        occurrence: String,
        /// Why.
        #[source]
        source: AdvisoryError,
    },
    /// The club file of an old version is not kept or no longer reads.
    #[error(
        "the club file of version {version} is not at hand: an advisory can only be explained from the store it was issued to"
    )]
    NoClubVersion {
        /// Its hash.
        version: String,
    },
    /// No advisory has this name.
    #[error("no advisory is named {id}: `cringle advise` prints the names of those that are issued")]
    NoSuchAdvisory {
        /// The name.
        id: String,
    },
    /// More than one advisory's name begins so.
    #[error("{id} is the beginning of more than one name: {matching}")]
    Ambiguous {
        /// The name given.
        id: String,
        /// Those that match.
        matching: String,
    },
    /// A computation stopped.
    #[error(
        "the computation of an advisory stopped: run again with RUST_LOG=debug and report what it prints"
    )]
    Stopped(#[from] tokio::task::JoinError),
}
