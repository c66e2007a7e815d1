//! The elements of the weather and how each is treated in space, in time and among several points.
//!
//! Owns: that table. Must not know: the arithmetic itself, limits, calls.

use forecast::{Gap, Parameter};
use serde::Serialize;

/// How an element is carried between the two steps around an instant.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum InTime {
    /// Linear, on components where there are two.
    Linear,
    /// The larger of the two.
    Larger,
    /// The smaller of the two.
    Smaller,
}

/// Two numbers that are interpolated together: east and north of a wind or of a unit vector; the second is 0 for a scalar.
pub(crate) type Components = [f64; 2];

/// One element of the weather, as [`crate::HourConditions`] has it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Element {
    /// Mean wind, kn and degrees from.
    Wind,
    /// Gust, kn.
    Gust,
    /// Wave height, m.
    WaveHeight,
    /// Wave period, s.
    WavePeriod,
    /// Wave direction, degrees from.
    WaveFrom,
    /// Air temperature, degrees Celsius.
    Air,
    /// Dew point, degrees Celsius.
    DewPoint,
    /// Visibility, m.
    Visibility,
    /// Rain rate, mm/h.
    Rain,
    /// CAPE, J/kg.
    Cape,
    /// Water temperature, degrees Celsius.
    Water,
    /// Pressure, hPa.
    Pressure,
    /// Tidal stream, m/s.
    Stream,
}

impl Element {
    /// Every element, in the order of [`crate::HourConditions`].
    pub const ALL: [Self; 13] = [
        Self::Wind,
        Self::Gust,
        Self::WaveHeight,
        Self::WavePeriod,
        Self::WaveFrom,
        Self::Air,
        Self::DewPoint,
        Self::Visibility,
        Self::Rain,
        Self::Cape,
        Self::Water,
        Self::Pressure,
        Self::Stream,
    ];

    /// The parameters it is made of.
    pub(crate) fn parameters(self) -> &'static [Parameter] {
        match self {
            Self::Wind => &[Parameter::WindU, Parameter::WindV],
            Self::Gust => &[Parameter::Gust],
            Self::WaveHeight => &[Parameter::WaveHeight],
            Self::WavePeriod => &[Parameter::WavePeriod],
            Self::WaveFrom => &[Parameter::WaveDirection],
            Self::Air => &[Parameter::AirTemperature],
            Self::DewPoint => &[Parameter::DewPoint],
            Self::Visibility => &[Parameter::Visibility],
            Self::Rain => &[Parameter::Precipitation],
            Self::Cape => &[Parameter::Cape],
            Self::Water => &[Parameter::SurfaceTemperature],
            Self::Pressure => &[Parameter::Pressure],
            Self::Stream => &[Parameter::StreamU, Parameter::StreamV],
        }
    }

    /// Whether only water nodes may give it: land slows wind, has no waves, and its surface is not the sea's.
    pub(crate) fn needs_water(self) -> bool {
        self.by_the_land_mask() || self.is_of_waves()
    }

    /// Whether the land mask says which nodes are water; a wave field says so itself, by being masked over land.
    pub(crate) fn by_the_land_mask(self) -> bool {
        matches!(self, Self::Wind | Self::Gust | Self::Water)
    }

    /// Whether the wave sources give it.
    pub(crate) fn is_of_waves(self) -> bool {
        matches!(self, Self::WaveHeight | Self::WavePeriod | Self::WaveFrom)
    }

    /// How it is carried between steps. A gust is listed as it is where it is of an instant.
    pub(crate) fn in_time(self) -> InTime {
        match self {
            Self::Gust | Self::Cape => InTime::Larger,
            Self::Visibility => InTime::Smaller,
            _ => InTime::Linear,
        }
    }

    /// How bad a value is, to choose the worst of several nodes or points; larger is worse.
    pub(crate) fn badness(self, value: Components) -> f64 {
        match self {
            Self::Wind | Self::Stream => value[0].hypot(value[1]),
            Self::Visibility | Self::Air | Self::Water | Self::Pressure | Self::WavePeriod => -value[0],
            _ => value[0],
        }
    }

    /// The components of the samples of its parameters, in the units of the messages.
    pub(crate) fn components(self, samples: Components) -> Components {
        match self {
            Self::WaveFrom => {
                let (sin, cos) = samples[0].to_radians().sin_cos();
                [sin, cos]
            }
            _ => samples,
        }
    }

    /// From interpolated components to the number the element is given in; for a wind or a stream that is its speed in m/s.
    pub(crate) fn number(self, value: Components) -> f64 {
        match self {
            Self::Wind | Self::Stream => value[0].hypot(value[1]),
            Self::WaveFrom => seaway::quantity::normalise_degrees(value[0].atan2(value[1]).to_degrees()),
            Self::Air | Self::DewPoint | Self::Water => value[0] - ZERO_CELSIUS_IN_KELVIN,
            Self::Pressure => value[0] / PASCALS_PER_HECTOPASCAL,
            _ => value[0],
        }
    }

    /// A sample that no instrument could give is a damaged message that slipped through.
    pub(crate) fn checked(value: f32) -> Result<f64, Gap> {
        if value.is_finite() {
            Ok(f64::from(value))
        } else {
            Err(Gap::Damaged)
        }
    }
}

/// 0 degrees Celsius in kelvin, exactly (SI brochure).
const ZERO_CELSIUS_IN_KELVIN: f64 = 273.15;
/// Exactly.
const PASCALS_PER_HECTOPASCAL: f64 = 100.0;
