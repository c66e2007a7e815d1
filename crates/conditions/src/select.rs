//! Which run of a source serves a span, and from when on a run is too old.
//!
//! Owns: that choice. Must not know: nodes, elements, limits.

use crate::venue::Span;
use chrono::{DateTime, TimeDelta, Utc};
use club::Policy;
use forecast::{Gap, Outcome, RunSlice};

/// Valid times up to this far ahead are near.
const NEAR: TimeDelta = TimeDelta::hours(48);
const SECONDS_PER_HOUR: f64 = 3600.0;

/// Whether a source's model covers a region only.
pub(crate) fn is_regional(source: &str) -> bool {
    club::sources::REGIONAL_SOURCES.contains(&source)
}

/// Whether a run is too old at `now` to be used for a valid time, by the club's policy; that of a regional source is sooner,
/// near or far.
pub(crate) fn too_old(
    policy: &Policy,
    regional: bool,
    reference: DateTime<Utc>,
    now: DateTime<Utc>,
    time: DateTime<Utc>,
) -> bool {
    let limit_h = if regional {
        policy.stale_after_regional_h
    } else if time - now <= NEAR {
        policy.stale_after_near_h
    } else {
        policy.stale_after_far_h
    };
    (now - reference).num_seconds() as f64 / SECONDS_PER_HOUR > limit_h
}

/// The run of a source to use for a span: the newest that is not too old and reaches the span's end, else the newest that
/// is not too old. A run still appearing does not yet take the place of a complete one.
///
/// The error is why there is none, with the newest run's reference time if that is too old.
pub(crate) fn run_for<'a>(
    source: &str,
    slices: &'a [RunSlice],
    policy: &Policy,
    now: DateTime<Utc>,
    span: Span,
) -> Result<&'a RunSlice, (Gap, Option<DateTime<Utc>>)> {
    let mut runs: Vec<&RunSlice> = slices
        .iter()
        .filter(|slice| slice.source.as_str() == source && slice.reference <= now)
        .collect();
    runs.sort_by_key(|slice| std::cmp::Reverse(slice.reference));
    let newest = runs.first().ok_or((Gap::NoRun, None))?.reference;
    let regional = is_regional(source);
    let old = |slice: &RunSlice, time| too_old(policy, regional, slice.reference, now, time);
    runs.retain(|slice| !(old(slice, span.0) && old(slice, span.1)));
    let reaches = |slice: &&&RunSlice| last_read(slice).is_some_and(|last| last >= span.1);
    let found = runs.iter().find(reaches).or(runs.first());
    found.copied().ok_or((Gap::RunTooOld, Some(newest)))
}

/// The last instant of a run of which anything was read.
fn last_read(slice: &RunSlice) -> Option<DateTime<Utc>> {
    let read = slice
        .messages
        .iter()
        .filter(|message| message.outcome == Outcome::Read);
    read.map(|message| slice.valid_time(message.step)).max()
}
