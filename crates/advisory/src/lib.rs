//! The issued document: one session's advisory, its reasons in words, its provenance, and how to make it again.
//!
//! Owns: the document's form and sentences, the inputs it was made from, and the pure function from one to the other.
//! Is given: a club, a session occurrence, run slices, the moment of issue. Must not know: HTML, mail, SQL, HTTP, the clock.

mod caution_words;
mod change_words;
pub mod decision;
pub mod document;
pub mod explain;
pub mod inputs;
mod leg_words;
pub mod make;
pub mod openings;
mod plan_words;
mod reason_words;
mod sources;
mod sure_words;
mod tightenings;
pub mod validity;
mod voices;
mod way_out;
pub mod words;

pub use caution_words::caution_of;
pub use decision::{Decided, Decision};
pub use document::Advisory;
pub use explain::{Explanation, TracedReason, explain, from_bytes, to_bytes};
pub use inputs::{AdvisoryError, FeedFacts, Inputs};
pub use make::{AROUND, Assembled};
pub use openings::{Opening, OpeningQuery, look_for_openings, openings};
pub use reason_words::{criterion_words, reason_of};
pub use way_out::way_out_of;
