//! What is due, what is told, and to whom. No source but where named: these are this project's own rules.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

mod chosen;
mod due;
mod shelf;
mod told;
