//! Tests of `grid` from outside: real files, synthetic trees, published packings, damaged bytes, every scanning mode.

mod common;
mod real_files;
