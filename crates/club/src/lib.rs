//! The club file: its types, and the parsing that reports every mistake at once.
//!
//! Owns: club, venue, boat with reef table, level with limits, session, policy; reading them from TOML; recurrence; what a
//! subscriber to the club's mail may choose.
//! Is given: the file's text. Must not know: forecasts, SQL, HTTP, the clock.

pub mod boat;
pub mod dimensions;
pub mod level;
mod mistake;
pub mod model;
mod odd;
mod parse;
pub mod policy;
mod read;
mod readable;
mod readable_boats;
mod readable_levels;
mod readable_policy;
mod readable_rig;
mod readable_venues;
mod recurrence;
pub mod sources;
mod subscriber;
pub mod waters;

/// The JSON Schema (draft 2020-12) of a club file, kept by hand; a test holds it against the reader key by key. TOML's dates and
/// times are texts in it.
pub const SCHEMA: &str = include_str!("schema.json");

pub use boat::{Boat, Headsail, ReefRow, ReefTable, TableWind};
pub use dimensions::{BoatDimensions, ByDefault};
pub use level::{Lesson, Level, Limit, Limits, Quantity};
pub use mistake::{Mistake, Mistakes};
pub use model::{
    Berth, Club, Entrance, ForecastPoint, Learned, Leg, MooredSide, SessionRule, Shore, Venue, WindSector,
};
pub use parse::{Coverage, FILE_AT_MOST, Parsed, parse, parse_bytes, parse_within};
pub use policy::{Combine, FloorPoint, Policy};
pub use readable::readable_checks;
pub use recurrence::{OCCURRENCES_AT_MOST, Occurrence, instant_of, occurrences};
pub use subscriber::{Choices, EmailAddress, NoAddress, NoSuchChoice};
pub use waters::{HighWater, LimitSector, SeaBreeze, SeaByFetch, Sector, StreamRow, StreamTable, TideGate};

#[cfg(test)]
mod every_key;
