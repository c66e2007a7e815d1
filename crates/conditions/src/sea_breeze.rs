//! The sea breeze to plan for.
//!
//! Owns: when it is planned for. Must not know: what it does to a wind, limits.
//! No source: common practice; the numbers are the club's policy.

use chrono::{DateTime, NaiveTime, Utc};
use chrono_tz::Tz;
use club::Policy;
use seaway::{DirectionFrom, Wind};

/// Wall time after which no sea breeze is planned for: it dies towards the evening.
const UNTIL: NaiveTime = match NaiveTime::from_hms_opt(18, 0, 0) {
    Some(time) => time,
    None => NaiveTime::MIN,
};

/// A sea breeze that is planned for.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Breeze {
    /// Where it comes from.
    pub(crate) onshore_from: DirectionFrom,
    /// By how much the land is warmer than the sea; none if that is not known.
    pub(crate) warmer_c: Option<f64>,
}

impl Breeze {
    /// Whether a wind leaves room for it.
    pub(crate) fn rises_in(self, policy: &Policy, gradient: Wind) -> bool {
        gradient.speed < policy.sea_breeze_below_kn
    }
}

/// Whether it is the time of day for one.
pub(crate) fn is_its_time(policy: &Policy, zone: Tz, time: DateTime<Utc>) -> bool {
    let wall = time.with_timezone(&zone).time();
    (policy.sea_breeze_from..=UNTIL).contains(&wall)
}

/// Whether the land is warm enough: by how much it is warmer than the sea, both in degrees Celsius. Where either is not known the
/// breeze is planned for all the same.
pub(crate) fn warmth(
    policy: &Policy,
    land_c: Option<f64>,
    sea_c: Option<f64>,
) -> Result<Option<f64>, TooCool> {
    let Some(warmer) = land_c.zip(sea_c).map(|(land, sea)| land - sea) else {
        return Ok(None);
    };
    // Temperatures of messages are kept in 32 bits: five degrees come out a hair under.
    if warmer + 1e-4 >= policy.sea_breeze_warmer_c {
        Ok(Some(warmer))
    } else {
        Err(TooCool)
    }
}

/// The land is too cool for a sea breeze.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct TooCool;
