//! The floors of spread: ensembles are too sure near the coast, and one run alone says nothing of its spread.
//!
//! A member is looked at as itself, early and late by the timing floor, and lifted by seven equally likely steps of a normal
//! distribution whose width is what the members' own spread lacks of the speed floor. With one run alone it lacks all of it.

use crate::outing::MemberView;
use chrono::{DateTime, TimeDelta, Utc};
use club::FloorPoint;
use seaway::Knots;

/// Standard normal quantiles at (i + 1/2) / 7 for i = 0 to 6: seven equally likely steps
/// (computed with Python's `statistics.NormalDist().inv_cdf`).
pub const STEPS: [f64; 7] = [
    -1.465_233_792_685_522_6,
    -0.791_638_607_743_374_9,
    -0.366_106_356_801_569_7,
    0.0,
    0.366_106_356_801_569_7,
    0.791_638_607_743_374_9,
    1.465_233_792_685_522_6,
];

/// Speed floor (kn) and timing floor (h) at a lead: linear between the policy's points, held constant outside them;
/// zero where the policy gives none.
pub fn floor_at(points: &[FloorPoint], lead_h: f64) -> (f64, f64) {
    let (Some(first), Some(last)) = (points.first(), points.last()) else {
        return (0.0, 0.0);
    };
    if lead_h <= first.lead_h {
        return (first.speed.0, first.timing_h);
    }
    for pair in points.windows(2) {
        let (low, high) = (&pair[0], &pair[1]);
        if lead_h <= high.lead_h {
            let part = (lead_h - low.lead_h) / (high.lead_h - low.lead_h);
            let between = |a: f64, b: f64| a + part * (b - a);
            return (
                between(low.speed.0, high.speed.0),
                between(low.timing_h, high.timing_h),
            );
        }
    }
    (last.speed.0, last.timing_h)
}

/// What the members' own spread of the mean wind lacks of the floor at an instant, kn: the width to add, in quadrature.
pub fn lacking(points: &[FloorPoint], view: &MemberView<'_>, at: DateTime<Utc>) -> f64 {
    let speeds = view
        .members
        .iter()
        .filter_map(|&member| Some((view.at)(member, at).wind.as_ref().ok()?.value.speed.0));
    lacking_of(points, view.lead_hours(at), speeds)
}

/// The same from the lead (h) and the members' mean winds (kn).
pub fn lacking_of(points: &[FloorPoint], lead_h: f64, speeds: impl Iterator<Item = f64>) -> f64 {
    let (floor, _) = floor_at(points, lead_h);
    (floor * floor - variance(speeds)).max(0.0).sqrt()
}

/// Population variance; zero for one value or none.
fn variance(values: impl Iterator<Item = f64>) -> f64 {
    // Welford's way: one pass, and no loss of digits where the values lie close together.
    let (mut count, mut mean, mut squares) = (0.0, 0.0, 0.0);
    for value in values {
        count += 1.0;
        let off = value - mean;
        mean += off / count;
        squares += off * (value - mean);
    }
    if count > 0.0 { squares / count } else { 0.0 }
}

/// How far a change may come early or late at the lead of leaving.
pub fn timing(points: &[FloorPoint], view: &MemberView<'_>, leaves: DateTime<Utc>) -> TimeDelta {
    let (_, hours) = floor_at(points, view.lead_hours(leaves));
    TimeDelta::seconds((hours * 3600.0).round() as i64)
}

/// The lifts to look at for a lack: one of zero where nothing lacks.
pub fn lifts(lack: f64) -> impl Iterator<Item = Knots> {
    let steps: &[f64] = if lack > 0.0 { &STEPS } else { &[0.0] };
    steps.iter().map(move |step| Knots(step * lack))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn points() -> Vec<FloorPoint> {
        club::Policy::default().spread_floor
    }

    #[test]
    fn floor_is_linear_between_the_points_and_constant_outside() {
        // 36 h is a quarter of the way from 24 to 72: 2.5 + 0.375 kn, 2 + 1 h.
        assert_eq!(floor_at(&points(), 36.0), (2.875, 3.0));
        assert_eq!(floor_at(&points(), 3.0), (2.5, 2.0));
        assert_eq!(floor_at(&points(), 120.0), (4.0, 6.0));
        assert_eq!(floor_at(&[], 36.0), (0.0, 0.0));
    }

    #[test]
    fn steps_have_the_width_of_the_seven_point_normal() {
        // Population standard deviation of the seven steps by hand: sqrt(2 (2.14691 + 0.62669 + 0.13403) / 7) = 0.91148.
        assert!((variance(STEPS.into_iter()).sqrt() - 0.911_48).abs() < 1e-4);
    }
}
