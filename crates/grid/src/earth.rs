//! The shape of the Earth that a projected grid is drawn on (WMO FM 92 GRIB edition 2, code table 3.2), and the two
//! functions of latitude that every conformal projection is made of.
//!
//! Formulas: J. P. Snyder, Map Projections, USGS Professional Paper 1395 (1987), (14-15), (15-9) and (7-9), from memory.
//! Must not know: any grid.

use crate::Damage;
use crate::grid_octets::unsupported;
use crate::sections::Section;
use serde::{Deserialize, Serialize};
use std::f64::consts::FRAC_PI_4;

/// Radii between which a number is taken for one of the Earth, metres.
const PLAUSIBLE_RADII: std::ops::RangeInclusive<f64> = 6.3e6..=6.4e6;
/// Steps of the search for a latitude; each gains two digits or more on an ellipsoid as flat as the Earth.
const MOST_ITERATIONS: u32 = 12;

/// An ellipsoid, or a sphere with eccentricity 0.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct Earth {
    /// Semi-major axis, metres.
    pub radius: f64,
    /// First eccentricity.
    pub eccentricity: f64,
}

impl Earth {
    /// Reads octets 15 to 30 of section 3.
    ///
    /// # Errors
    /// Unsupported for a shape without fixed axes; a contradiction where the axes are not those of the Earth.
    pub fn read(section: &Section<'_>) -> Result<Self, Damage> {
        let (major, minor) = match section.u8(15)? {
            0 => (6_367_470.0, 6_367_470.0),
            1 => (scaled(section, 16)?, scaled(section, 16)?),
            2 => (6_378_160.0, 6_356_775.0),
            3 => (1000.0 * scaled(section, 21)?, 1000.0 * scaled(section, 26)?),
            4 => (6_378_137.0, 6_356_752.314),
            5 => (6_378_137.0, 6_356_752.314_2),
            6 => (6_371_229.0, 6_371_229.0),
            7 => (scaled(section, 21)?, scaled(section, 26)?),
            8 => (6_371_200.0, 6_371_200.0),
            9 => (6_377_563.396, 6_356_256.909),
            shape => {
                let words = format!("shape of the Earth {shape} (code table 3.2)");
                return Err(unsupported(section, &words));
            }
        };
        if !PLAUSIBLE_RADII.contains(&major) || !PLAUSIBLE_RADII.contains(&minor) || minor > major {
            let words = format!("axes of {major} and {minor} metres are not the Earth's");
            return Err(section.contradiction(words));
        }
        Ok(Self {
            radius: major,
            eccentricity: (1.0 - (minor / major).powi(2)).max(0.0).sqrt(),
        })
    }

    /// Radius of a parallel in radii of the equator (m): latitude in radians.
    pub fn parallel(&self, latitude: f64) -> f64 {
        let sine = self.eccentricity * latitude.sin();
        latitude.cos() / (1.0 - sine * sine).sqrt()
    }

    /// What conformal projections raise to a power (t): 0 at the north pole, 1 on the equator, large at the south pole.
    pub fn conformal(&self, latitude: f64) -> f64 {
        (FRAC_PI_4 - latitude / 2.0).tan() / self.flattened(latitude)
    }

    /// The latitude in radians that [`Self::conformal`] makes this of.
    pub fn latitude_of(&self, conformal: f64) -> f64 {
        let mut latitude = 2.0 * (FRAC_PI_4 - conformal.atan());
        for _ in 0..MOST_ITERATIONS {
            let next = 2.0 * (FRAC_PI_4 - (conformal * self.flattened(latitude)).atan());
            let moved = (next - latitude).abs();
            latitude = next;
            if moved < 1.0e-15 {
                break;
            }
        }
        latitude
    }

    fn flattened(&self, latitude: f64) -> f64 {
        let sine = self.eccentricity * latitude.sin();
        ((1.0 - sine) / (1.0 + sine)).powf(self.eccentricity / 2.0)
    }
}

/// A number of four octets after its decimal scale of one.
fn scaled(section: &Section<'_>, octet: usize) -> Result<f64, Damage> {
    let (scale, value) = (section.signed_8(octet)?, section.u32(octet + 1)?);
    Ok(f64::from(value) * 10_f64.powi(-scale))
}
