//! The commands, one file each.

pub mod advise;
pub mod check;
pub mod demo;
pub mod explain;
pub mod grib;
pub mod pull;
pub mod windows;
