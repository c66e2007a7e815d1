//! The issued document: one session's advisory, its reasons in words, its provenance, and how to make it again.
//!
//! Owns: the document's form and sentences, the inputs it was made from, and the pure function from one to the other.
//! Is given: a club, a session occurrence, run slices, the moment of issue. Must not know: HTML, mail, SQL, HTTP, the clock.

pub mod document;

pub use document::Advisory;
