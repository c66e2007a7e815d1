//! A change of a session, as it is kept until it is told. What counts as one is said where it is put into words.

use advisory::{Advisory, Decision};
use present::mail::Told;
use serde::{Deserialize, Serialize};

/// A change of a session.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct SessionChange {
    /// The session.
    pub session: String,
    /// What was told before.
    pub was: Told,
}

/// An advisory as it was issued: one that has grown old meanwhile is followed by another issue, and that one is told.
pub(crate) fn as_issued(advisory: &Advisory, decisions: &[Decision]) -> Told {
    Told::of(advisory, decisions, advisory.issued_at.to_utc())
}
