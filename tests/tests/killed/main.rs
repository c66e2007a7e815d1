//! Pulls and mailings that are killed: what is safe stays, what is half done is done again, and in the end all is as if nothing
//! had been.
#![expect(
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "a test fails loudly, says when it skips, and prints its figures"
)]

mod at_random;
mod child;
mod cut_writes;
mod named_points;
mod posting;
mod read_meanwhile;
mod safe;
mod world;

use cringle_tests::{chance, shelf};
