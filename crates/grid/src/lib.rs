//! grid
