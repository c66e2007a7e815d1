//! Pulls of copies of the bundled run, whole and damaged, through the real decoding child into a real store.

#![expect(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "a test fails loudly and says when it skips"
)]

mod by_subset;
mod cached;
mod damaged;
mod faults;
mod feeds_at;
mod on_a_mesh;
mod over_http;
mod producers;
mod rerun;
mod server;
mod tree;
mod turned;
mod values;
