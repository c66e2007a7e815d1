//! The sea that the local wind raises over the venue's own water.
//!
//! Owns: asking for it. Must not know: the growth formulas, which `seaway::wave_growth` has, wave models, limits.

use crate::corrections::Corrected;
use crate::hour::Notes;
use crate::worst::AtPoint;
use club::waters::SeaByFetch;
use forecast::Gap;
use seaway::wave_growth::GrownSea;
use seaway::{DirectionFrom, MetresPerSecond, Wind};

/// A sea raised by a wind, and that wind.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Raised {
    /// The sea.
    pub(crate) sea: GrownSea,
    /// Where it comes from.
    pub(crate) from: DirectionFrom,
    /// The mean wind that raises it, without what a stream adds to it.
    pub(crate) wind: Wind,
}

/// The highest sea of a mean wind. It is taken to have blown long enough for the water alone to decide: the harder.
pub(crate) fn raised(water: &SeaByFetch, wind: Wind) -> Result<Raised, Gap> {
    let speed = MetresPerSecond::from(wind.speed);
    let (sea, from) = water
        .table
        .highest_sea(speed, wind.from, None, water.depth)
        .ok_or(Gap::Damaged)?;
    Ok(Raised { sea, from, wind })
}

/// As other values of a point are kept.
pub(crate) fn at_point(at: AtPoint<Raised>) -> AtPoint<Corrected<Raised>> {
    let notes = Notes {
        by_fetch: true,
        ..Notes::default()
    };
    AtPoint {
        point: at.point,
        value: Corrected::not_yet(at.value, notes),
    }
}
