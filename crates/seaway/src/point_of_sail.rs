//! Points of sail: how a boat lies to the true wind.
//!
//! Owns: the names and their bounds. Must not know: limits, cautions, legs.
//! The names have no standard bounds: these are common practice, no source.

/// How a boat lies to the true wind.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum PointOfSail {
    /// Closer than the boat can sail.
    NoGoZone,
    /// As close as she can.
    CloseHauled,
    /// Freer than close hauled, the wind still forward of the beam.
    CloseReach,
    /// The wind on the beam.
    BeamReach,
    /// The wind abaft the beam.
    BroadReach,
    /// The wind astern.
    Running,
}

/// Half the angle that cannot be sailed, degrees either side of the wind. No source: common practice.
pub const NO_GO_HALF_ANGLE_DEG: f64 = 45.0;

impl PointOfSail {
    /// From the true wind angle, degrees off the bow on either side, and the closest angle the boat sails at.
    pub fn of(true_wind_angle_deg: f64, closest_deg: f64) -> Self {
        let angle = crate::quantity::signed_difference(0.0, true_wind_angle_deg).abs();
        match angle {
            angle if angle < closest_deg => Self::NoGoZone,
            angle if angle < closest_deg.max(45.0) + 10.0 => Self::CloseHauled,
            angle if angle < 80.0 => Self::CloseReach,
            angle if angle < 100.0 => Self::BeamReach,
            angle if angle < 160.0 => Self::BroadReach,
            _ => Self::Running,
        }
    }

    /// Its name.
    pub fn name(self) -> &'static str {
        match self {
            Self::NoGoZone => "no-go zone",
            Self::CloseHauled => "close-hauled",
            Self::CloseReach => "close reach",
            Self::BeamReach => "beam reach",
            Self::BroadReach => "broad reach",
            Self::Running => "running",
        }
    }
}
