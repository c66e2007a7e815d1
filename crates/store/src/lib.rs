//! The shelf beside the line: point series by node, club versions and issued advisories, in SQL.
//!
//! Owns: every SQL statement, the schema and its migrations, and the form in which series and manifests are kept.
//! Is given: parts already decoded, club texts and documents as bytes, instants. Must not know: feeds, GRIB, rules,
//! presentation, the clock.

mod advisory;
mod board;
mod club;
mod connection;
mod error;
mod part;
mod run;
mod schema;
mod slice;

pub use advisory::{NewAdvisory, StoredAdvisory};
pub use club::{ClubVersion, NewClubVersion};
pub use connection::Store;
pub use error::StoreError;
pub use part::NewPart;
pub use run::RunSummary;
pub use slice::NEAR_DEGREES;
