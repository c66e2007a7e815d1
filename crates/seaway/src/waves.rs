//! Waves: length, speed, steepness, and the single high ones.
//!
//! Owns: linear wave theory, mostly in deep water. Must not know: limits, wave models, what the depth of a place is.
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

/// Length of a wave of a period over a depth, the root of L = g T^2 / (2 pi) tanh(2 pi d / L). None unless period and depth are
/// finite and above 0.
pub fn length_over(depth: Metres, period: Seconds) -> Option<Metres> {
    let valid = |value: f64| value.is_finite() && value > 0.0;
    if !(valid(depth.0) && valid(period.0)) {
        return None;
    }
    let deep = deep_water_length(period).0;
    // With x = 2 pi d / L and y = 2 pi d / L0 the root of x tanh x = y, by Newton's steps from above it: always towards it.
    let y = TAU * depth.0 / deep;
    let mut x = y.max(y.sqrt()) + y.min(1.0);
    for _ in 0..50 {
        let tanh = x.tanh();
        x -= (x * tanh - y) / (tanh + x * (1.0 - tanh * tanh));
    }
    let length = TAU * depth.0 / x;
    // A period so short that its length rounds to nothing has no root to step to.
    length.is_finite().then_some(Metres(length))
}

/// The height that a share of single waves exceeds, from the significant height: Hs sqrt(-ln(share) / 2). None unless the share
/// lies above 0 and up to 1 and the height is a number from 0 up.
///
/// Source: Rayleigh's distribution of heights (Longuet-Higgins 1952, from memory); one in a thousand as a marine page of the US
/// National Weather Service prints it.
pub fn exceeded_height(significant: Metres, share: f64) -> Option<Metres> {
    let valid = share > 0.0 && share <= 1.0 && significant.0.is_finite() && significant.0 >= 0.0;
    valid.then(|| Metres(significant.0 * (-share.ln() / 2.0).sqrt()))
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
