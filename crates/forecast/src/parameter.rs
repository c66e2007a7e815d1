//! Which physical quantity a value is, in the unit its GRIB message gives.

use serde::{Deserialize, Serialize};
use std::fmt;

/// A quantity that some rule, page or correction uses. Units are those of the GRIB message, unchanged.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Parameter {
    /// Wind towards east at 10 m, m/s.
    WindU,
    /// Wind towards north at 10 m, m/s.
    WindV,
    /// Gust, m/s; instantaneous or the maximum of an interval, as its message says.
    Gust,
    /// Pressure at mean sea level, Pa.
    Pressure,
    /// Air temperature at 2 m, K.
    AirTemperature,
    /// Dew point at 2 m, K.
    DewPoint,
    /// Visibility, m.
    Visibility,
    /// Convective available potential energy, J/kg.
    Cape,
    /// Precipitation accumulated over the message's own interval, kg/m2 (mm).
    Precipitation,
    /// Temperature of the surface, K: of the sea where the node is water.
    SurfaceTemperature,
    /// Share of land in the cell, 0 (water) to 1 (land).
    LandShare,
    /// Significant height of combined wind waves and swell, m.
    WaveHeight,
    /// Period of the primary wave system, s.
    WavePeriod,
    /// Direction the primary wave system comes from, degrees true.
    WaveDirection,
    /// Stream of the water towards east, m/s.
    StreamU,
    /// Stream of the water towards north, m/s.
    StreamV,
}

impl Parameter {
    /// Every parameter, in the order they are kept.
    pub const ALL: [Self; 16] = [
        Self::WindU,
        Self::WindV,
        Self::Gust,
        Self::Pressure,
        Self::AirTemperature,
        Self::DewPoint,
        Self::Visibility,
        Self::Cape,
        Self::Precipitation,
        Self::SurfaceTemperature,
        Self::LandShare,
        Self::WaveHeight,
        Self::WavePeriod,
        Self::WaveDirection,
        Self::StreamU,
        Self::StreamV,
    ];

    /// The two components of one vector, towards east and towards north.
    pub const VECTORS: [[Self; 2]; 2] = [[Self::WindU, Self::WindV], [Self::StreamU, Self::StreamV]];

    /// Whether it is one component of a vector.
    pub fn is_component(self) -> bool {
        Self::VECTORS.as_flattened().contains(&self)
    }

    /// Its name in the catalogue, in JSON and in errors.
    pub fn name(self) -> &'static str {
        match self {
            Self::WindU => "wind-u",
            Self::WindV => "wind-v",
            Self::Gust => "gust",
            Self::Pressure => "pressure",
            Self::AirTemperature => "air-temperature",
            Self::DewPoint => "dew-point",
            Self::Visibility => "visibility",
            Self::Cape => "cape",
            Self::Precipitation => "precipitation",
            Self::SurfaceTemperature => "surface-temperature",
            Self::LandShare => "land-share",
            Self::WaveHeight => "wave-height",
            Self::WavePeriod => "wave-period",
            Self::WaveDirection => "wave-direction",
            Self::StreamU => "stream-u",
            Self::StreamV => "stream-v",
        }
    }

    /// The unit of its values as kept.
    pub fn unit(self) -> &'static str {
        match self {
            Self::WindU | Self::WindV | Self::Gust | Self::StreamU | Self::StreamV => "m/s",
            Self::Pressure => "Pa",
            Self::AirTemperature | Self::DewPoint | Self::SurfaceTemperature => "K",
            Self::Visibility | Self::WaveHeight => "m",
            Self::Cape => "J/kg",
            Self::Precipitation => "kg/m2",
            Self::LandShare => "1",
            Self::WavePeriod => "s",
            Self::WaveDirection => "degrees true, from",
        }
    }
}

impl fmt::Display for Parameter {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}
