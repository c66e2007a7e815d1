//! A front: the wind veers within a few hours, with rain.
//!
//! Owns: whether one passes a point at an instant. Must not know: the gust, where the rain comes from, limits.
//! No source: common practice; the numbers are the club's policy.

use crate::prepared::PreparedRun;
use crate::stream::SECONDS_PER_HOUR;
use chrono::{DateTime, TimeDelta, Utc};
use club::Policy;
use forecast::Gap;
use seaway::quantity::signed_difference;
use seaway::{DirectionFrom, LatLon, MetresPerSecond, Wind};

/// By how many degrees the wind has turned the way it turns at a front, clockwise in the northern hemisphere and counter-clockwise
/// in the southern; none where that is less than the policy's.
///
/// It is compared with the wind `front_within_h` before, or at the run's first step. The gap is why that one is not known: then a
/// front cannot be ruled out.
pub(crate) fn veer(
    policy: &Policy,
    run: &PreparedRun,
    (point, row): (usize, usize),
    time: DateTime<Utc>,
    now_from: DirectionFrom,
) -> Result<Option<f64>, Gap> {
    let within = TimeDelta::seconds((policy.front_within_h * SECONDS_PER_HOUR) as i64);
    let (first, _) = run.span().ok_or(Gap::NotThere)?;
    let before = (time - within).max(first);
    if before >= time {
        return Ok(None);
    }
    let [east, north] = run.wind(point, row, before)?.0.value;
    let from = Wind::from_components(MetresPerSecond(east), MetresPerSecond(north)).from;
    let turned = signed_difference(from.degrees(), now_from.degrees()) * turns(run.points[point].place);
    Ok((turned >= policy.front_veer_deg).then_some(turned))
}

/// 1 where the wind turns clockwise at a front, -1 south of the equator.
fn turns(place: LatLon) -> f64 {
    if place.lat < 0.0 { -1.0 } else { 1.0 }
}
