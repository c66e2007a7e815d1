//! The rules, in tables worked by hand.
#![expect(
    clippy::expect_used,
    clippy::panic,
    reason = "helpers of tests say what must be there"
)]

mod allocation;
mod brute_force;
mod calls;
mod cautions;
mod changes;
mod common;
mod legs_and_lessons;
mod plans;
mod properties;
mod random;
mod two_sources;
mod waters;
