//! When there is something new to say: runs the rules and issues advisories. The only service that issues.
//!
//! Owns: which inputs an occurrence needs, when an advisory is new, that it is issued once, and when to look again.
//! Is given: the store, the clubs, the catalogue, a clock. Must not know: GRIB, source addresses, axum, SMTP, HTML.

mod asked;
mod clubs;
mod error;
mod gather;
mod issue;
mod keep;
mod kept;
mod steadiness;
mod wake;
mod windows;

pub use asked::{explain, openings};
pub use clubs::{Advised, advise_all, coming, places_of_others};
pub use error::AdvisorError;
pub use gather::{gather, named_feeds, slices_for};
pub use issue::{Failed, Issued, Round, issue, keep_club};
pub use keep::{Clock, Keeper};
pub use kept::{KeptPoint, KeptValue, at_point};
pub use wake::{Due, Rhythm, Wake, Why, decision_hours, next_wake};
pub use windows::{NoSuchKey, WindowChoice, Windows, pick, windows};
