//! Pulls of copies of the bundled run, whole and damaged, through the real decoding child into a real store.

#![expect(
    clippy::unwrap_used,
    clippy::expect_used,
    reason = "a test fails loudly and says when it skips"
)]

mod by_subset;
mod cached;
mod damaged;
mod feeds_at;
mod over_http;
mod producers;
mod rerun;
mod server;
mod tree;
mod values;
