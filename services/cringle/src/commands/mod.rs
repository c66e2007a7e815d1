//! The commands, one file each.

pub mod advise;
pub mod check;
pub mod conditions;
pub mod decide;
pub mod demo;
pub mod demo_live;
pub mod digest;
pub mod explain;
pub mod fetch;
pub mod grib;
pub mod pull;
pub mod runs;
pub mod schema;
pub mod serve;
pub mod suppose;
pub mod token;
pub mod windows;
