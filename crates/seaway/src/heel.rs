//! Heel: the wind's push on the sails against the hull's righting moment.
//!
//! Owns: wind pressure, righting moment, the steady heel where both agree, the heel of a boat close hauled. Must not know:
//! rigs, reef tables, what heel a crew bears. Righting follows the sine of the heel (small angles): past
//! [`SINE_HOLDS_UP_TO_DEG`] the answers say no more than "a lot".

use crate::apparent::{WindOffBow, apparent_off_bow};
use crate::point_of_sail::NO_GO_HALF_ANGLE_DEG;
use crate::quantity::{Kilograms, Knots, Metres, MetresPerSecond, NewtonMetres, Pascals, SquareMetres};

/// Density of air at sea level, kg/m3: the standard atmosphere's.
pub const AIR_DENSITY: f64 = 1.225;
/// Standard gravity, m/s2.
const STANDARD_GRAVITY: f64 = 9.806_65;
/// One pound-force on a square foot.
const POUND_A_SQUARE_FOOT: Pascals = Pascals(47.8803);
/// The heeling lever falls as this power of the cosine of heel. Source: the Red Ensign code for sailing vessels.
pub const LEVER_EXPONENT: f64 = 1.3;
/// Past this heel the sine no longer follows a real hull's righting arm. No source: common practice.
pub const SINE_HOLDS_UP_TO_DEG: f64 = 35.0;
/// How fast a cruising yacht of 8 to 12 m goes, reefed. No source: common practice.
pub const REEFED_CRUISER_SPEED: Knots = Knots(5.0);
/// Side force over pressure times area, of sails sheeted in. Source: the textbook form of the heel equation, from memory.
const SIDE_FORCE: f64 = 1.0;

/// Dynamic pressure of a wind in air of a density in kg/m3: q = rho V^2 / 2.
pub fn wind_pressure(speed: Knots, density: f64) -> Pascals {
    Pascals(0.5 * density * MetresPerSecond::from(speed).0.powi(2))
}

/// The wind that has this dynamic pressure in air of a density in kg/m3.
pub fn wind_of_pressure(pressure: Pascals, density: f64) -> Knots {
    Knots::from(MetresPerSecond((2.0 * pressure.0 / density).sqrt()))
}

/// The hull's righting moment over the sine of heel: mass times gravity times metacentric height.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stiffness(NewtonMetres);

impl Stiffness {
    /// From displacement and metacentric height GM. Source: textbooks of naval architecture, from memory.
    pub fn of_metacentre(displacement: Kilograms, gm: Metres) -> Self {
        Self(NewtonMetres(displacement.0 * STANDARD_GRAVITY * gm.0))
    }

    /// From the righting moment at one degree, as rating certificates give it.
    pub fn of_moment_at_one_degree(moment: NewtonMetres) -> Self {
        Self(NewtonMetres(moment.0 / 1f64.to_radians().sin()))
    }

    /// The righting moment at one degree of heel.
    pub fn moment_at_one_degree(self) -> NewtonMetres {
        NewtonMetres(self.0.0 * 1f64.to_radians().sin())
    }
}

/// Heeling moment of a boat upright: pressure times area times arm, for a side force coefficient of 1.
pub fn heeling_moment(pressure: Pascals, area: SquareMetres, arm: Metres) -> NewtonMetres {
    NewtonMetres(pressure.0 * area.0 * SIDE_FORCE * arm.0)
}

/// What is left of the heeling lever at a heel: the cosine to the power given.
pub fn lever_left(heel_deg: f64, exponent: f64) -> f64 {
    heel_deg.to_radians().cos().max(0.0).powf(exponent)
}

/// The steady heel in degrees, 0 to 90, where moment * cos^n(heel) = stiffness * sin(heel).
///
/// None where no such heel is: a moment or stiffness that is not positive, or (with n = 0) more push than the hull has.
pub fn steady_heel_deg(upright: NewtonMetres, stiffness: Stiffness, exponent: f64) -> Option<f64> {
    if upright.0 == 0.0 && stiffness.0.0 > 0.0 {
        return Some(0.0);
    }
    if !(upright.0 > 0.0 && stiffness.0.0 > 0.0 && upright.0.is_finite() && exponent >= 0.0) {
        return None;
    }
    let excess = |heel_deg: f64| {
        upright.0 * lever_left(heel_deg, exponent) - stiffness.0.0 * heel_deg.to_radians().sin()
    };
    let (mut lower, mut upper) = (0.0, 90.0);
    if excess(upper) > 0.0 {
        return None;
    }
    // The excess falls all the way, so halving finds its only root; sixty halvings reach the last digit.
    for _ in 0..60 {
        let middle = (lower + upper) / 2.0;
        if excess(middle) > 0.0 {
            lower = middle;
        } else {
            upper = middle;
        }
    }
    Some((lower + upper) / 2.0)
}

/// The Dellenbaugh angle, degrees: the heel under one pound on the square foot, by small angles. It ranks boats by stiffness.
pub fn dellenbaugh_angle_deg(area: SquareMetres, arm: Metres, stiffness: Stiffness) -> f64 {
    (heeling_moment(POUND_A_SQUARE_FOOT, area, arm).0 / stiffness.0.0).to_degrees()
}

/// The steady heel, degrees, of a boat close hauled in a true wind: she feels it with her own way added, at 45 degrees and 5 knots.
///
/// None where [`steady_heel_deg`] has no answer.
pub fn close_hauled_heel_deg(
    true_wind: Knots,
    area: SquareMetres,
    arm: Metres,
    stiffness: Stiffness,
) -> Option<f64> {
    let off_bow = WindOffBow {
        speed: true_wind,
        angle_deg: NO_GO_HALF_ANGLE_DEG,
    };
    let felt = apparent_off_bow(off_bow, REEFED_CRUISER_SPEED).speed;
    let moment = heeling_moment(wind_pressure(felt, AIR_DENSITY), area, arm);
    steady_heel_deg(moment, stiffness, LEVER_EXPONENT)
}
