//! Quantities as types: a knot is not a metre per second, a direction *from* is not a heading.
//!
//! Speeds of wind are kept in knots, as limits are written, so that "at or above 20 kn" compares the number the
//! club wrote and not 20.000000000000004, which a library with SI base units hands back.

use serde::{Deserialize, Serialize};

/// Metres per second in one knot: 1852/3600 exactly (the international nautical mile).
pub const METRES_PER_SECOND_PER_KNOT: f64 = 1852.0 / 3600.0;

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub f64);

        impl $name {
            /// The larger of two.
            pub fn max(self, other: Self) -> Self { Self(self.0.max(other.0)) }
            /// The smaller of two.
            pub fn min(self, other: Self) -> Self { Self(self.0.min(other.0)) }
        }
    };
}

quantity!(
    /// Speed in knots (nautical miles an hour).
    Knots
);
quantity!(
    /// Speed in metres a second.
    MetresPerSecond
);
quantity!(
    /// Length or height in metres.
    Metres
);
quantity!(
    /// Distance in nautical miles of 1852 m.
    NauticalMiles
);
quantity!(
    /// Period or duration in seconds.
    Seconds
);
quantity!(
    /// Pressure in hectopascals.
    Hectopascals
);
quantity!(
    /// Temperature in degrees Celsius.
    Celsius
);
quantity!(
    /// Area in square metres.
    SquareMetres
);
quantity!(
    /// Mass in kilograms.
    Kilograms
);
quantity!(
    /// Moment of a force in newton metres.
    NewtonMetres
);
quantity!(
    /// Pressure of the wind on sails, in pascals.
    Pascals
);

impl From<MetresPerSecond> for Knots {
    fn from(speed: MetresPerSecond) -> Self {
        Self(speed.0 / METRES_PER_SECOND_PER_KNOT)
    }
}

impl From<Knots> for MetresPerSecond {
    fn from(speed: Knots) -> Self {
        Self(speed.0 * METRES_PER_SECOND_PER_KNOT)
    }
}

/// Brings any angle in degrees into 0 (included) to 360 (excluded).
pub fn normalise_degrees(degrees: f64) -> f64 {
    // Within one turn the remainder needs no division, which costs more than all else in finding a cell.
    let turned = match degrees {
        _ if degrees.abs() >= 360.0 => degrees.rem_euclid(360.0),
        _ if degrees < 0.0 => degrees + 360.0,
        _ => degrees,
    };
    // Of a tiny negative number either rounds to 360 itself.
    if turned >= 360.0 { 0.0 } else { turned }
}

/// Where wind or waves come *from*, degrees true, 0 up to 360.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct DirectionFrom(f64);

/// Which way something points or lies *towards*, degrees true, 0 up to 360.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Bearing(f64);

macro_rules! direction {
    ($name:ident) => {
        impl $name {
            /// Any angle in degrees true; brought into one turn.
            pub fn new(degrees: f64) -> Self {
                Self(normalise_degrees(degrees))
            }
            /// Degrees true, 0 up to 360 (north is 0).
            pub fn degrees(self) -> f64 {
                self.0
            }
        }
    };
}
direction!(DirectionFrom);
direction!(Bearing);

impl DirectionFrom {
    /// The way it blows or runs: the opposite of where it comes from.
    pub fn towards(self) -> Bearing {
        Bearing::new(self.0 + 180.0)
    }
    /// Signed angle of this direction off a bearing, -180 up to 180; positive to starboard (clockwise).
    pub fn off(self, bearing: Bearing) -> f64 {
        signed_difference(bearing.0, self.0)
    }
}

/// Signed turn from one angle to another by the shorter way, degrees, -180 (excluded) to 180 (included).
pub fn signed_difference(from_degrees: f64, to_degrees: f64) -> f64 {
    let turn = normalise_degrees(to_degrees - from_degrees);
    if turn > 180.0 { turn - 360.0 } else { turn }
}

/// A place on the Earth in degrees, WGS 84; latitude north, longitude east of Greenwich in -180 up to 180.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct LatLon {
    /// Degrees north, -90 to 90.
    pub lat: f64,
    /// Degrees east, -180 up to 180.
    pub lon: f64,
}

impl LatLon {
    /// A place, if the latitude is one and both are finite; the longitude may be written 0..360 or -180..180.
    pub fn new(lat: f64, lon: f64) -> Option<Self> {
        if !(-90.0..=90.0).contains(&lat) || !(-360.0..=360.0).contains(&lon) {
            return None;
        }
        Some(Self {
            lat,
            lon: signed_difference(0.0, lon),
        })
    }

    /// Great-circle distance on a sphere of radius 6371.0088 km (IUGG mean radius).
    pub fn distance(self, other: Self) -> NauticalMiles {
        let (lat1, lat2) = (self.lat.to_radians(), other.lat.to_radians());
        let (half_lat, half_lon) = ((lat2 - lat1) / 2.0, (other.lon - self.lon).to_radians() / 2.0);
        let h = half_lat.sin().powi(2) + lat1.cos() * lat2.cos() * half_lon.sin().powi(2);
        NauticalMiles(2.0 * 6371.0088 / 1.852 * h.sqrt().min(1.0).asin())
    }
}
