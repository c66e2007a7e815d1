//! What a venue's water is like: fetch, tide and stream, the sea breeze, sectors.
//!
//! Owns: those types. Must not know: how the file writes them, what a rule does with them.

use chrono::{DateTime, Utc};
use chrono_tz::Tz;
use seaway::quantity::normalise_degrees;
use seaway::wave_growth::FetchTable;
use seaway::{Bearing, DirectionFrom, Knots, LatLon, Metres};

/// Directions from one clockwise to another, both included.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sector {
    /// First direction *from*.
    pub from: DirectionFrom,
    /// Last direction *from*, clockwise.
    pub to: DirectionFrom,
}

impl Sector {
    /// Whether a direction lies in it.
    pub fn holds(self, from: DirectionFrom) -> bool {
        let width = normalise_degrees(self.to.degrees() - self.from.degrees());
        normalise_degrees(from.degrees() - self.from.degrees()) <= width
    }
}

/// A factor on the level's limits of wind and sea while the wind comes from a sector.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LimitSector {
    /// Where the wind comes from.
    pub sector: Sector,
    /// Factor on the limits, 0.5 to 1; what several make together is never below 0.8.
    pub factor: f64,
}

/// Sheltered water, whose sea the local wind raises.
#[derive(Clone, Debug, PartialEq)]
pub struct SeaByFetch {
    /// Open water by direction.
    pub table: FetchTable,
    /// Mean depth of that water; none: deep.
    pub depth: Option<Metres>,
    /// No wave model reaches this water: its sea is the local wind's alone.
    pub alone: bool,
}

/// One high water.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HighWater {
    /// When.
    pub at: DateTime<Utc>,
    /// The range of that tide; none: taken for springs.
    pub range: Option<Metres>,
}

/// The stream of one hour of the tide.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StreamRow {
    /// Hours from high water, -6 to 6; before it negative.
    pub hour: i8,
    /// Where it sets.
    pub set: Bearing,
    /// Its rate at springs.
    pub springs: Knots,
    /// Its rate at neaps.
    pub neaps: Knots,
}

/// The club's own stream table.
#[derive(Clone, Debug, PartialEq)]
pub struct StreamTable {
    /// Rows by hour, ascending, each hour once.
    pub rows: Vec<StreamRow>,
    /// Mean range at springs and at neaps; none: every tide is taken for springs.
    pub ranges: Option<(Metres, Metres)>,
}

/// When there is water enough in an entrance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TideGate {
    /// Hours before high water it opens.
    pub opens_before_h: f64,
    /// Hours after high water it shuts.
    pub shuts_after_h: f64,
}

/// Where a sea breeze comes from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SeaBreeze {
    /// The club's zone: the policy says in its wall time from when a breeze is planned for.
    pub zone: Tz,
    /// The land whose warmth drives it.
    pub land: LatLon,
    /// Where it comes from.
    pub onshore_from: DirectionFrom,
}
