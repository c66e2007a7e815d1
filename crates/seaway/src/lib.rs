//! Pure physics of wind, sea and daylight for small yachts.
//!
//! Owns: quantities as types, wind vectors, Beaufort, apparent wind, height correction, sea state, daylight.
//! Is given: numbers with units and instants. Must not know: GRIB, feeds, clubs, limits, sentences, the clock.

pub mod quantity;
pub mod wind;

pub use quantity::{Bearing, DirectionFrom, Hectopascals, Knots, LatLon, Metres, MetresPerSecond, NauticalMiles, Seconds};
pub use wind::Wind;
