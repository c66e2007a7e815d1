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
    /// The club's file was replaced meanwhile.
    #[error("the file of club {slug} was replaced meanwhile: its sessions are advised on by the newer one")]
    ClubChanged {
        /// The club.
        slug: String,
    },
    /// A kept club file no longer reads.
    #[error(
        "the newest kept file of club {slug} does not read: `cringle check` says what is wrong with a file"
    )]
    Unreadable {
        /// The club.
        slug: String,
    },
    /// Others issued for the same session over and over.
    #[error(
        "other advisors issued for {occurrence} over and over: see that the clocks of the machines agree"
    )]
    Overtaken {
        /// The occurrence.
        occurrence: String,
    },
    /// The club has nothing of a key that was asked for.
    #[error(transparent)]
    NoSuchKey(#[from] crate::windows::NoSuchKey),
    /// A computation stopped.
    #[error(
        "the computation of an advisory stopped: run again with RUST_LOG=debug and report what it prints"
    )]
    Stopped(#[from] tokio::task::JoinError),
}
