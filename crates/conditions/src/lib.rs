//! conditions
