//! True wind and apparent wind: what the forecast says and what the crew feels.
//!
//! Owns: the vector triangle, off the bow and over the Earth. Must not know: sails, limits, currents. No leeway, no heel.
//! Source: the vector triangle, AWS^2 = TWS^2 + BS^2 + 2 TWS BS cos TWA, AWA = atan2(TWS sin TWA, BS + TWS cos TWA).

use crate::quantity::{Bearing, Knots, MetresPerSecond, signed_difference};
use crate::wind::Wind;

/// A wind seen from a boat.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WindOffBow {
    /// Its speed.
    pub speed: Knots,
    /// Where it comes from off the bow, degrees, -180 up to 180, positive to starboard. That of a calm is 0 and means nothing.
    pub angle_deg: f64,
}

/// The apparent wind of a boat that moves straight ahead, from the true wind off her bow.
pub fn apparent_off_bow(true_wind: WindOffBow, boat_speed: Knots) -> WindOffBow {
    with_headwind(true_wind, boat_speed.0)
}

/// The true wind off the bow, from the apparent wind and the boat's speed.
pub fn true_off_bow(apparent: WindOffBow, boat_speed: Knots) -> WindOffBow {
    with_headwind(apparent, -boat_speed.0)
}

/// Adds a wind from dead ahead.
fn with_headwind(wind: WindOffBow, ahead_kn: f64) -> WindOffBow {
    let (sin, cos) = wind.angle_deg.to_radians().sin_cos();
    let (abeam, ahead) = (wind.speed.0 * sin, wind.speed.0 * cos + ahead_kn);
    let speed = abeam.hypot(ahead);
    // Equal and opposite winds leave a rounding error, whose direction means nothing.
    let calm = speed <= 1e-12 * wind.speed.0.abs().max(ahead_kn.abs());
    let angle_deg = if calm {
        0.0
    } else {
        abeam.atan2(ahead).to_degrees()
    };
    WindOffBow {
        speed: Knots(if calm { 0.0 } else { speed }),
        angle_deg,
    }
}

/// The apparent wind of a boat on a course, over the Earth: its speed and where it seems to come from, degrees true.
pub fn apparent_wind(true_wind: Wind, course: Bearing, boat_speed: Knots) -> Wind {
    plus_own_way(true_wind, course, boat_speed.0)
}

/// The true wind over the Earth, from the apparent wind of a boat on a course.
pub fn true_wind(apparent: Wind, course: Bearing, boat_speed: Knots) -> Wind {
    plus_own_way(apparent, course, -boat_speed.0)
}

fn plus_own_way(wind: Wind, course: Bearing, boat_speed_kn: f64) -> Wind {
    let (east, north) = wind.components();
    let own = Wind {
        speed: Knots(boat_speed_kn),
        from: crate::DirectionFrom::new(course.degrees()),
    };
    let (own_east, own_north) = own.components();
    Wind::from_components(
        MetresPerSecond(east.0 + own_east.0),
        MetresPerSecond(north.0 + own_north.0),
    )
}

/// A wind over the Earth as it lies off the bow of a boat with this heading.
pub fn off_bow(wind: Wind, heading: Bearing) -> WindOffBow {
    WindOffBow {
        speed: wind.speed,
        angle_deg: signed_difference(heading.degrees(), wind.from.degrees()),
    }
}
