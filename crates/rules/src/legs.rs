//! Legs: how each lies to the wind at its hour, and how far she sails on one that lies too close to the wind.
//!
//! Owns: the hours of the legs and their tacked distance. Must not know: cautions, sentences. No source unless named: common practice.

use crate::outing::Outing;
use crate::verdict::VerdictHour;
use chrono::{DateTime, TimeDelta, Utc};
use club::Leg;
use seaway::point_of_sail::PointOfSail;
use seaway::{Knots, NauticalMiles};

/// What such a yacht makes under reduced sail in a fresh breeze (no source: common practice).
const UNDER_REDUCED_SAIL: Knots = Knots(5.0);

/// A sea that is worth its steepness (the policy's `steepness_from_m`) is a chop from this height over length on (no source: common
/// practice).
pub const CHOP_FROM_STEEPNESS: f64 = 0.04;

/// No boat gains ground wider of the wind than this, degrees; a wider angle in a club file is taken for it.
const WIDEST_BEAT_DEG: f64 = 80.0;

/// A leg at its hour.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LegSailed {
    /// The leg.
    pub leg: Leg,
    /// When it begins if nothing holds her up: at 5 kn from leaving.
    pub from: DateTime<Utc>,
    /// When it ends at the latest, if she is still to be alongside in time; the end at 5 kn where time is short.
    pub latest_end: DateTime<Utc>,
    /// How it lies to the wind of its hour; none where that wind is not known.
    pub lie: Option<Lie>,
}

/// How a leg lies to the wind.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lie {
    /// True wind angle, degrees off the bow, 0 to 180.
    pub true_wind_angle: f64,
    /// The closest the boat then sails to the wind, degrees; wider in a chop.
    pub closest_deg: f64,
    /// Its point of sail.
    pub point_of_sail: PointOfSail,
    /// What she sails in tacks; none where the leg can be sailed as it lies.
    pub tacked: Option<NauticalMiles>,
}

impl Lie {
    /// A leg in the wind and sea of an hour; none where the wind is not known.
    pub fn of(leg: Leg, hour: &VerdictHour, outing: &Outing<'_>) -> Option<Self> {
        let true_wind_angle = hour.wind?.true_wind_angle(leg.bearing);
        let closest_deg = closest_deg(hour, outing);
        Some(Self {
            true_wind_angle,
            closest_deg,
            point_of_sail: PointOfSail::of(true_wind_angle, closest_deg),
            tacked: tacked(leg.distance, true_wind_angle, closest_deg),
        })
    }
}

impl LegSailed {
    /// Whether she may be on it at an instant: from when it can begin to when it must have ended, and an hour either side, for
    /// conditions are looked at by the hour.
    pub fn may_be_on_it(&self, at: DateTime<Utc>) -> bool {
        let hour = TimeDelta::hours(1);
        at > self.from - hour && at < self.latest_end + hour
    }
}

/// The closest she sails to the true wind, degrees: the boat's own angle, wider in a chop. A sea that is not known is no chop.
fn closest_deg(hour: &VerdictHour, outing: &Outing<'_>) -> f64 {
    let policy = outing.policy;
    let high = hour
        .wave_height
        .is_some_and(|wave| wave >= policy.steepness_from_m);
    let steep = hour
        .steepness
        .is_some_and(|steepness| steepness >= CHOP_FROM_STEEPNESS);
    let wider = if high && steep {
        policy.chop_widens_deg
    } else {
        0.0
    };
    (outing.boat.closest_deg + wider).min(WIDEST_BEAT_DEG)
}

/// What is sailed to make a distance good to windward in tacks at an angle either side of the wind; none where the leg lies no closer.
///
/// The tacks p and q make good d cos b to windward, p cos a + q cos a, so p + q = d cos b / cos a (plane trigonometry).
pub fn tacked(distance: NauticalMiles, true_wind_angle: f64, closest_deg: f64) -> Option<NauticalMiles> {
    (true_wind_angle < closest_deg).then(|| {
        let (off_the_wind, closest) = (true_wind_angle.to_radians(), closest_deg.to_radians());
        NauticalMiles(distance.0 * off_the_wind.cos() / closest.cos())
    })
}

/// The legs of an outing in order, each in the wind of its hour: the last shown hour at or before it begins.
pub fn along(outing: &Outing<'_>, hours: &[VerdictHour]) -> Vec<LegSailed> {
    let mut begins = outing.leaves;
    let mut legs = Vec::with_capacity(outing.legs.len());
    for &leg in outing.legs {
        let until = begins.min(outing.alongside);
        let hour = hours.iter().rfind(|hour| hour.at <= until);
        let lie = hour.and_then(|hour| Lie::of(leg, hour, outing));
        let sailed = lie.and_then(|lie| lie.tacked).unwrap_or(leg.distance);
        // To the minute: it is a guess.
        let takes = sailed.0 / UNDER_REDUCED_SAIL.0 * 60.0;
        let ends = TimeDelta::try_minutes(takes.round() as i64)
            .and_then(|takes| begins.checked_add_signed(takes))
            .unwrap_or(begins);
        legs.push(LegSailed {
            leg,
            from: begins,
            latest_end: ends,
            lie,
        });
        begins = ends;
    }
    let to_spare = (outing.alongside - begins).max(TimeDelta::zero());
    for leg in &mut legs {
        leg.latest_end += to_spare;
    }
    legs
}
