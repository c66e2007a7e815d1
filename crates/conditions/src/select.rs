//! Which run of a source serves a span, and from when on a run is too old.
//!
//! Owns: that choice. Must not know: nodes, elements, limits.

use crate::venue::Span;
use chrono::{DateTime, TimeDelta, Utc};
use club::Policy;
use forecast::{Gap, Outcome, RunSlice};
use std::collections::BTreeSet;

/// Valid times up to this far ahead are near.
const NEAR: TimeDelta = TimeDelta::hours(48);
const SECONDS_PER_HOUR: f64 = 3600.0;

/// Whether a source's model covers a region only.
pub(crate) fn is_regional(source: &str) -> bool {
    club::sources::is_regional(source)
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

/// The runs that conditions over a span are made from: of each source that the policy names the one that serves or, where
/// all are too old, the newest, which says so; and of each source whose mask is not in these, the newest run's land mask.
/// Conditions from these alone are those from all.
pub fn runs_used(policy: &Policy, slices: &[RunSlice], now: DateTime<Utc>, span: Span) -> Vec<RunSlice> {
    let lists = [
        &policy.wind_sources,
        &policy.deterministic_sources,
        &policy.wave_sources,
        &policy.weather_sources,
    ];
    let named: BTreeSet<&str> = lists.into_iter().flatten().map(String::as_str).collect();
    let run_of = |source: &str| match run_for(source, slices, policy, now, span) {
        Ok(slice) => Some(slice),
        Err((_, newest)) => slices
            .iter()
            .find(|slice| slice.source.as_str() == source && Some(slice.reference) == newest),
    };
    let mut used: Vec<RunSlice> = named
        .iter()
        .filter_map(|source| run_of(source))
        .cloned()
        .collect();
    let mut newest_first: Vec<&RunSlice> = slices.iter().filter(|slice| slice.reference <= now).collect();
    newest_first.sort_by_key(|slice| std::cmp::Reverse(slice.reference));
    for slice in newest_first {
        let of_source = |one: &RunSlice| one.source == slice.source && one.land_mask_only().is_some();
        if !used.iter().any(of_source) {
            used.extend(slice.land_mask_only());
        }
    }
    used
}

/// The last instant of a run of which anything was read.
fn last_read(slice: &RunSlice) -> Option<DateTime<Utc>> {
    let read = slice
        .messages
        .iter()
        .filter(|message| message.outcome == Outcome::Read);
    read.map(|message| slice.valid_time(message.step)).max()
}
