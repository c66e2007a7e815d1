//! Tests of `grid` from outside: real files, synthetic trees, published packings, damaged bytes, every scanning mode.

mod built;
mod common;
mod damaged_files;
mod hostile;
mod packings;
mod real_files;
mod reference;
mod scanning;
mod synthetic_trees;
