//! Waves in deep water: length, speed, steepness.
//!
//! Owns: linear wave theory in deep water. Must not know: limits, wave models, depth.
//! Source of the formulas: Coastal Engineering Manual EM 1110-2-1100, Part II, chapter 1 (linear theory), g 9.81 m/s2.

use crate::quantity::{Metres, MetresPerSecond, Seconds};
use std::f64::consts::TAU;

/// Acceleration of gravity, m/s2, as the Coastal Engineering Manual takes it.
pub const GRAVITY: f64 = 9.81;

/// Steepness (height over length) at which deep-water waves break: 1/7 (Encyclopaedia Britannica, wave; Miche gives 0.142).
pub const BREAKING_STEEPNESS: f64 = 1.0 / 7.0;

/// Length of a wave in deep water, L = g T^2 / (2 pi). Deep is a depth of at least half the length.
pub fn deep_water_length(period: Seconds) -> Metres {
    Metres(GRAVITY * period.0 * period.0 / TAU)
}

/// Speed of a crest in deep water, c = g T / (2 pi); a group of waves travels at half of it.
pub fn deep_water_phase_speed(period: Seconds) -> MetresPerSecond {
    MetresPerSecond(GRAVITY * period.0 / TAU)
}

/// Height over length in deep water, a ratio. None where the period is not a positive number or the height not one from 0 up:
/// a flat sea without a period has no steepness.
pub fn steepness(height: Metres, period: Seconds) -> Option<f64> {
    let valid = period.0 > 0.0 && period.0.is_finite() && height.0 >= 0.0 && height.0.is_finite();
    valid.then(|| height.0 / deep_water_length(period).0)
}
