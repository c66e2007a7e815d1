//! Tests of `grid` from outside: real files, synthetic trees, published packings, damaged bytes, every scanning mode.

#![expect(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "a test may fail by panicking, says what it compared, and finds the shared files by the environment"
)]

mod built;
mod built_grids;
mod common;
mod damaged_files;
mod encoded;
mod hostile;
mod meshes;
mod nearest;
mod packings;
mod projections;
mod real_files;
mod reference;
mod scanning;
mod story;
mod synthetic_trees;
mod two_ways;
mod wanted;
