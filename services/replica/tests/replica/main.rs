//! The replica from outside, on the wire.

#![expect(
    clippy::unwrap_used,
    clippy::panic,
    reason = "helpers of tests fail by panicking"
)]

mod faults_in_files;
mod faults_on_the_wire;
mod full_size;
mod server;
mod subset_service;
mod wire;
