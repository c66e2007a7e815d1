//! When there is something new to say: runs the rules and issues advisories. The only service that issues.
//!
//! Owns: which inputs an occurrence needs, when an advisory is new, and that it is issued once.
//! Is given: the store, the club, the catalogue, `now`. Must not know: GRIB, source addresses, axum, SMTP, HTML.

mod error;
mod gather;
mod issue;
mod steadiness;

pub use error::AdvisorError;
pub use gather::{gather, named_feeds, slices_for};
pub use issue::{Issued, explain, issue, openings};
