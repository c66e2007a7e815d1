//! The pages that are made from a club's file and from runs.

#![expect(
    clippy::unwrap_used,
    clippy::panic,
    reason = "helpers of tests fail by panicking"
)]

mod data;
mod openings;
mod policy;
mod sample;
mod subscribe;
