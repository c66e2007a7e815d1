//! Wind and height: from the 10 m of forecasts to a masthead and back.
//!
//! Owns: the neutral log law over the sea with Charnock's roughness. Must not know: boats, forecasts, land.
//! Holds in neutral air; in stable air (warm wind over cold water) the masthead sees more than this says.

use crate::quantity::{Metres, MetresPerSecond};
use crate::waves::GRAVITY;

/// The height that forecasts and limits speak of.
pub const FORECAST_HEIGHT: Metres = Metres(10.0);

/// Roughness length of the open sea with a fetch of 5 km or more. Source: US EPA meteorological monitoring guidance, Table 6-10.
pub const OPEN_SEA_ROUGHNESS: Metres = Metres(0.0002);

/// Charnock's constant. Source: Garratt 1977, Monthly Weather Review 105.
const CHARNOCK: f64 = 0.0144;
/// Von Karman's constant as Garratt takes it with that.
const VON_KARMAN: f64 = 0.41;
/// Below this speed the sea is as smooth as at it: Charnock's roughness vanishes with the wind and is not meant for calms.
const LEAST_SPEED: f64 = 0.1;

/// Speed at one height over speed at another in neutral air, ln(z2/z0) / ln(z1/z0).
///
/// None unless both heights lie above the roughness length and that is positive.
/// Source: the neutral log law, US EPA meteorological monitoring guidance, 6.6.3.
pub fn log_law_ratio(from: Metres, to: Metres, roughness: Metres) -> Option<f64> {
    let valid = roughness.0 > 0.0 && from.0 > roughness.0 && to.0 > roughness.0 && to.0.is_finite();
    valid.then(|| (to.0 / roughness.0).ln() / (from.0 / roughness.0).ln())
}

/// Friction velocity and roughness length of the sea under a wind.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SeaSurface {
    /// Friction velocity.
    pub friction_velocity: MetresPerSecond,
    /// Roughness length.
    pub roughness: Metres,
}

/// The sea's surface under a wind measured at a height: z0 = 0.0144 u*^2 / g with u* = 0.41 U / ln(z/z0), solved by iteration.
///
/// None unless the speed is a number from 0 up, and the height between 1 and 100 m, where the log law holds.
/// Source: Charnock's relation with the constants of Garratt 1977.
pub fn sea_surface(speed: MetresPerSecond, height: Metres) -> Option<SeaSurface> {
    if !(speed.0 >= 0.0 && speed.0.is_finite() && (1.0..=100.0).contains(&height.0)) {
        return None;
    }
    let speed = speed.0.max(LEAST_SPEED);
    let mut roughness = OPEN_SEA_ROUGHNESS.0;
    let mut friction = 0.0;
    // Each turn shrinks the error some tenfold: the logarithm hardly feels the roughness. Twenty reach the last digit.
    for _ in 0..20 {
        friction = VON_KARMAN * speed / (height.0 / roughness).ln();
        // A hurricane's sea would grow past the height itself in the first turns.
        roughness = (CHARNOCK * friction * friction / GRAVITY).min(height.0 / 10.0);
    }
    Some(SeaSurface {
        friction_velocity: MetresPerSecond(friction),
        roughness: Metres(roughness),
    })
}

/// A wind at one height carried to another over the open sea, by the log law over Charnock's roughness.
///
/// None where [`sea_surface`] or [`log_law_ratio`] have no answer: heights outside 1 to 100 m, a speed that is no number.
pub fn at_height(speed: MetresPerSecond, from: Metres, to: Metres) -> Option<MetresPerSecond> {
    if !(1.0..=100.0).contains(&to.0) {
        return None;
    }
    let surface = sea_surface(speed, from)?;
    let ratio = log_law_ratio(from, to, surface.roughness)?;
    Some(MetresPerSecond(speed.0 * ratio))
}
