//! Damp air and what is seen through it.
//!
//! Owns: the dew point, the terms for visibility at sea. Must not know: limits, cautions, forecasts.

use crate::quantity::{Celsius, Metres};

/// Fog is visibility below this. Source: glossary of the American Meteorological Society; UK Met Office.
pub const FOG_BELOW: Metres = Metres(1000.0);
/// Poor visibility ends here: two nautical miles. Source: glossary of the UK Met Office's shipping forecast.
const POOR_BELOW: Metres = Metres(3704.0);
/// Moderate visibility ends here: five. Source: as [`POOR_BELOW`].
const MODERATE_TO: Metres = Metres(9260.0);

/// Dew point from the air's temperature and its relative humidity, 0 to 1; None of a humidity outside that, or none at all.
///
/// Source: Bolton 1980, Monthly Weather Review 108: e = 6.112 exp(17.67 T / (T + 243.5)) hPa. Other coefficients differ by a tenth of a degree.
pub fn dew_point(air: Celsius, relative_humidity: f64) -> Option<Celsius> {
    let valid = relative_humidity > 0.0 && relative_humidity <= 1.0 && air.0 > -100.0 && air.0 < 100.0;
    valid.then(|| {
        let power = relative_humidity.ln() + 17.67 * air.0 / (air.0 + 243.5);
        Celsius(243.5 * power / (17.67 - power))
    })
}

/// What visibility is called at sea.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum VisibilityTerm {
    /// Below 1,000 m: fog, "very poor" in forecasts.
    Fog,
    /// From there to two nautical miles.
    Poor,
    /// From there to five.
    Moderate,
    /// More than five.
    Good,
}

impl VisibilityTerm {
    /// The term for a visibility; None of a number that is none or below 0.
    pub fn of(visibility: Metres) -> Option<Self> {
        let known = visibility.0 >= 0.0;
        known.then(|| {
            if visibility < FOG_BELOW {
                Self::Fog
            } else if visibility < POOR_BELOW {
                Self::Poor
            } else if visibility <= MODERATE_TO {
                Self::Moderate
            } else {
                Self::Good
            }
        })
    }

    /// Its name.
    pub fn name(self) -> &'static str {
        match self {
            Self::Fog => "fog",
            Self::Poor => "poor",
            Self::Moderate => "moderate",
            Self::Good => "good",
        }
    }
}
