//! Wind as a vector and as speed with direction *from*.

use crate::quantity::{Bearing, DirectionFrom, Knots, MetresPerSecond};
use serde::{Deserialize, Serialize};

/// A wind: its speed and where it comes from. Direction of a calm is north by convention and means nothing.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Wind {
    /// Speed over the ground at the height it was given for.
    pub speed: Knots,
    /// Where it comes from, degrees true.
    pub from: DirectionFrom,
}

impl Wind {
    /// From components towards east (u) and north (v), as forecasts give them.
    pub fn from_components(u: MetresPerSecond, v: MetresPerSecond) -> Self {
        let speed = Knots::from(MetresPerSecond(u.0.hypot(v.0)));
        let from = if u.0 == 0.0 && v.0 == 0.0 {
            0.0
        } else {
            (-u.0).atan2(-v.0).to_degrees()
        };
        Self {
            speed,
            from: DirectionFrom::new(from),
        }
    }

    /// Components towards east and north.
    pub fn components(self) -> (MetresPerSecond, MetresPerSecond) {
        let speed = MetresPerSecond::from(self.speed).0;
        let (sin, cos) = self.from.degrees().to_radians().sin_cos();
        (MetresPerSecond(-speed * sin), MetresPerSecond(-speed * cos))
    }

    /// Component blowing *towards* a bearing; negative when it blows away from there.
    pub fn component_towards(self, bearing: Bearing) -> Knots {
        Knots(
            self.speed.0
                * self
                    .from
                    .off(Bearing::new(bearing.degrees() + 180.0))
                    .to_radians()
                    .cos(),
        )
    }

    /// Angle of the true wind off the bow of a boat on this course, 0 (ahead) to 180 (dead astern).
    pub fn true_wind_angle(self, course: Bearing) -> f64 {
        self.from.off(course).abs()
    }
}
