//! Until when an advisory may be shown as current.

use crate::inputs::Inputs;
use chrono::{DateTime, DurationRound, NaiveTime, TimeDelta, Utc};
use chrono_tz::Tz;
use club::sources::is_regional;
use club::{Club, Policy};
use forecast::RunSlice;

/// Nothing is shown as current longer than this after the next half hour of the clock, whatever else is due. Not from `now`:
/// the same inputs looked at again a little later would be another advisory.
const LONGEST: TimeDelta = TimeDelta::minutes(23 * 60 + 30);

/// Valid times up to this far ahead need a younger run.
const NEAR: TimeDelta = TimeDelta::hours(48);

/// The next of: a run goes stale for the session, the club's decision hour, the next expected run of a source; after `now`.
///
/// A run that is overdue is looked for again at the next half hour of the clock.
pub fn valid_until(inputs: &Inputs, club: &Club, now: DateTime<Utc>) -> DateTime<Utc> {
    let stale = inputs
        .slices
        .iter()
        .map(|slice| slice.reference + stale_after(&club.policy, slice, inputs, now))
        // At this very moment the run still serves; a second later it does not.
        .map(|stale| {
            if stale == now {
                stale + TimeDelta::seconds(1)
            } else {
                stale
            }
        });
    let expected = inputs.feeds.iter().map(|facts| {
        let next = inputs
            .slices
            .iter()
            .filter(|slice| slice.source == facts.source)
            .map(|slice| slice.reference + TimeDelta::hours(i64::from(facts.every_h)))
            .max();
        let out = next.map(|cycle| cycle + TimeDelta::minutes(i64::from(facts.usually_out_after_min)));
        out.filter(|out| *out > now)
            .unwrap_or_else(|| next_half_hour(now))
    });
    let decides = decides_by(club, inputs.leaves);
    // Two days ahead a stricter age begins to count.
    stale
        .chain(expected)
        .chain([
            decides,
            inputs.leaves,
            inputs.leaves - NEAR,
            inputs.alongside - NEAR,
        ])
        .filter(|at| *at > now)
        .fold(next_half_hour(now) + LONGEST, DateTime::min)
}

fn next_half_hour(now: DateTime<Utc>) -> DateTime<Utc> {
    let half = TimeDelta::minutes(30);
    now.duration_trunc(half).unwrap_or(now) + half
}

fn stale_after(policy: &Policy, run: &RunSlice, inputs: &Inputs, now: DateTime<Utc>) -> TimeDelta {
    let near = inputs.leaves - now <= NEAR;
    let hours = if is_regional(run.source.as_str()) {
        policy.stale_after_regional_h
    } else if near {
        policy.stale_after_near_h
    } else {
        policy.stale_after_far_h
    };
    TimeDelta::seconds((hours * 3600.0).round() as i64)
}

/// When the club decides on a session: its hour on the day before, in its zone.
pub fn decides_by(club: &Club, leaves: DateTime<Utc>) -> DateTime<Utc> {
    let eve = leaves.with_timezone(&club.time_zone).date_naive() - TimeDelta::days(1);
    at_wall_time(club.time_zone, eve, club.decides_at)
}

/// A wall time of a day in a zone; one that a clock change skips is taken an hour later, one that comes twice the first time.
pub fn at_wall_time(zone: Tz, date: chrono::NaiveDate, time: NaiveTime) -> DateTime<Utc> {
    let wall = date.and_time(time);
    let found = wall.and_local_timezone(zone).earliest();
    let later = || (wall + TimeDelta::hours(1)).and_local_timezone(zone).earliest();
    found
        .or_else(later)
        .map_or_else(|| wall.and_utc(), |at| at.with_timezone(&Utc))
}
