//! The rules, in tables worked by hand.
#![expect(
    clippy::expect_used,
    clippy::panic,
    reason = "helpers of tests say what must be there"
)]

mod allocation;
mod calls;
mod common;
mod plans;
mod properties;
mod waters;
