//! The tidal stream of an instant, from the club's own table and its list of high waters.
//!
//! Owns: the way from table to stream, and the part of a stream that runs against a wind. Must not know: limits, waves.
//! The way is that of the tables in common use (no source: common practice): hours from the nearest high water, and between the
//! rates at neaps and at springs by the range of the day.

use crate::hour::Stream;
use chrono::{DateTime, TimeDelta, Utc};
use club::waters::{HighWater, StreamRow, StreamTable};
use forecast::Gap;
use seaway::quantity::signed_difference;
use seaway::{Bearing, Knots, Metres, MetresPerSecond, Wind};

/// A high water farther off than this says nothing of the hour: two follow each other by about 12 h 25 min.
const FARTHEST: TimeDelta = TimeDelta::hours(7);
pub(crate) const SECONDS_PER_HOUR: f64 = 3600.0;
/// Less stream than this against the wind is none: a stream square to the wind leaves what rounding leaves.
const LEAST_OPPOSING: Knots = Knots(0.005);

/// The stream at an instant and the high water it was counted from.
///
/// Between two rows it is linear on components; before the first row and past the last these hold, up to the midpoint between two
/// high waters.
pub(crate) fn from_table(
    table: &StreamTable,
    high_waters: &[HighWater],
    time: DateTime<Utc>,
) -> Result<(Stream, DateTime<Utc>), Gap> {
    let tide = nearest(high_waters, time).ok_or(Gap::NoHighWater)?;
    let hours = (time - tide.at).num_seconds() as f64 / SECONDS_PER_HOUR;
    let after = table.rows.partition_point(|row| f64::from(row.hour) <= hours);
    let before = after.checked_sub(1).and_then(|index| table.rows.get(index));
    let component = |row: &StreamRow| towards(rate(table, row, tide.range), row.set);
    let stream = match (before, table.rows.get(after)) {
        (Some(before), Some(after)) => {
            let (first, last) = (f64::from(before.hour), f64::from(after.hour));
            let part = (hours - first) / (last - first);
            let (a, b) = (component(before), component(after));
            of_components([a[0] + part * (b[0] - a[0]), a[1] + part * (b[1] - a[1])])
        }
        (Some(row), None) | (None, Some(row)) => Stream {
            rate: rate(table, row, tide.range),
            set: row.set,
        },
        (None, None) => return Err(Gap::NoHighWater),
    };
    Ok((stream, tide.at))
}

fn nearest(high_waters: &[HighWater], time: DateTime<Utc>) -> Option<&HighWater> {
    let after = high_waters.partition_point(|tide| tide.at <= time);
    let around = high_waters.get(after.saturating_sub(1)..high_waters.len().min(after + 1))?;
    let away = |tide: &&HighWater| (tide.at - time).abs();
    around
        .iter()
        .min_by_key(away)
        .filter(|tide| away(tide) <= FARTHEST)
}

/// A row's rate on a day of a range. Where the range is not known springs count: the harder.
fn rate(table: &StreamTable, row: &StreamRow, range: Option<Metres>) -> Knots {
    let (Some(range), Some((at_springs, at_neaps))) = (range, table.ranges) else {
        return row.springs;
    };
    let part = (range.0 - at_neaps.0) / (at_springs.0 - at_neaps.0);
    // Springs that do not range more than neaps tell nothing of a day between them.
    if !(part.is_finite() && at_springs > at_neaps) {
        return row.springs;
    }
    Knots((row.neaps.0 + part * (row.springs.0 - row.neaps.0)).max(0.0))
}

/// Knots towards east and north.
fn towards(rate: Knots, set: Bearing) -> [f64; 2] {
    let (sin, cos) = set.degrees().to_radians().sin_cos();
    [rate.0 * sin, rate.0 * cos]
}

fn of_components([east, north]: [f64; 2]) -> Stream {
    Stream {
        rate: Knots(east.hypot(north)),
        set: Bearing::new(east.atan2(north).to_degrees()),
    }
}

/// The stream of components towards east and north, m/s.
pub(crate) fn of_metres_per_second([east, north]: [f64; 2]) -> Stream {
    let stream = of_components([east, north]);
    Stream {
        rate: Knots::from(MetresPerSecond(stream.rate.0)),
        ..stream
    }
}

/// The part of a stream that runs against a wind; none where it runs across or with it. A stream with the wind takes nothing off:
/// it may turn earlier than the table says, and a kinder wind on paper is no reason to go.
pub(crate) fn opposing(stream: Stream, wind: Wind) -> Option<Knots> {
    let off_the_wind = signed_difference(wind.from.towards().degrees(), stream.set.degrees());
    let against = Knots(-stream.rate.0 * off_the_wind.to_radians().cos());
    (against >= LEAST_OPPOSING).then_some(against)
}
