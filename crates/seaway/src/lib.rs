//! Pure physics of wind, sea and daylight for small yachts.
//!
//! Owns: quantities as types, wind vectors, Beaufort, apparent wind, height correction, sea state, waves that a wind raises
//! and a stream changes, damp air and cold, daylight, rig and heel.
//! Is given: numbers with units and instants. Must not know: GRIB, feeds, clubs, limits, sentences, the clock.

pub mod air;
pub mod apparent;
pub mod beaufort;
pub mod cold;
pub mod daylight;
pub mod heel;
pub mod point_of_sail;
pub mod profile;
pub mod quantity;
pub mod rig;
pub mod wave_current;
pub mod wave_growth;
pub mod waves;
pub mod wind;

pub use daylight::{SunTimes, sun_times};
pub use quantity::{
    Bearing, Celsius, DirectionFrom, Hectopascals, Kilograms, Knots, LatLon, Metres, MetresPerSecond,
    NauticalMiles, NewtonMetres, Pascals, Seconds, SquareMetres,
};
pub use wind::Wind;
