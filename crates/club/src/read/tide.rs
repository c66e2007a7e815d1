//! Reads a venue's tide: high waters, the stream by the hour, and the gate of an entrance.
//!
//! Owns: `[venues.tide]`, `[venues.entrance.gate]`, that high waters ascend. Must not know: how a stream is interpolated.

use super::value::Value;
use super::{Table, entries_between};
use crate::waters::{HighWater, StreamRow, StreamTable, TideGate};
use chrono::{DateTime, TimeDelta, Utc};
use seaway::{Bearing, Knots, Metres};

/// High waters of one venue at most: five years of them.
const HIGH_WATERS_AT_MOST: usize = 4000;
/// Nearer than this two high waters are not two tides (they are half a day apart, or a day).
const APART_AT_LEAST: TimeDelta = TimeDelta::hours(6);

/// Where a venue's high waters stand in the file, for warnings about how far they reach.
pub(crate) struct HighWatersPlace {
    /// Their path.
    pub(crate) path: String,
    /// Byte offset of the list.
    pub(crate) at: usize,
}

/// What `[venues.tide]` says.
pub(crate) struct Tide {
    pub(crate) place: HighWatersPlace,
    pub(crate) high_waters: Vec<HighWater>,
    pub(crate) stream: Option<StreamTable>,
}

/// Reads the tide of one venue.
pub(crate) fn read_tide(table: &mut Table<'_>) -> Option<Tide> {
    let high_waters = table.required(
        "high_waters",
        "the high waters with their offsets, such as [\"2030-05-14T06:12:00+01:00\"]",
    );
    let place = high_waters.as_ref().map(|value| HighWatersPlace {
        path: table.path_of("high_waters"),
        at: value.at(),
    });
    let high_waters = high_waters.and_then(|value| read_high_waters(&value));
    let ranges = read_ranges(table);
    let rows = match table.optional("stream") {
        None => Some(None),
        value => read_stream(value).map(Some),
    };
    if let (Some(None), Some(springs)) = (&rows, table.optional("spring_range_m")) {
        springs.mistake("stream beside it: the ranges tell springs from neaps in it");
    }
    let ranges = ranges?;
    Some(Tide {
        place: place?,
        high_waters: high_waters?,
        stream: rows?.map(|rows| StreamTable { rows, ranges }),
    })
}

fn read_high_waters(value: &Value<'_>) -> Option<Vec<HighWater>> {
    let mut before: Option<DateTime<Utc>> = None;
    let read: Vec<Option<HighWater>> = value
        .list(1, HIGH_WATERS_AT_MOST)?
        .into_iter()
        .map(|entry| read_high_water(entry, &mut before))
        .collect();
    read.into_iter().collect()
}

/// One high water: a time, or a table of a time and its range.
fn read_high_water(entry: Value<'_>, before: &mut Option<DateTime<Utc>>) -> Option<HighWater> {
    if !entry.is_table() {
        return Some(HighWater {
            at: next_high_water(&entry, before)?,
            range: None,
        });
    }
    let mut table = entry.table()?;
    let at = table
        .required(
            "at",
            "when, with its offset, such as \"2030-05-14T06:12:00+01:00\"",
        )
        .and_then(|value| next_high_water(&value, before));
    let range = match table.optional("range_m") {
        None => Some(None),
        Some(value) => value.number(0.0..=20.0).map(|range| Some(Metres(range))),
    };
    table.finish();
    Some(HighWater {
        at: at?,
        range: range?,
    })
}

fn next_high_water(value: &Value<'_>, before: &mut Option<DateTime<Utc>>) -> Option<DateTime<Utc>> {
    let at = value.instant()?;
    if let Some(earlier) = before.replace(at) {
        let earlier_words = earlier.format("%Y-%m-%d %H:%M UTC");
        if at <= earlier {
            value.mistake(format!(
                "after {earlier_words}, the high water before (they ascend)"
            ));
        } else if at - earlier < APART_AT_LEAST {
            value.mistake(format!(
                "at least {} hours after {earlier_words}, the high water before",
                APART_AT_LEAST.num_hours()
            ));
        }
    }
    Some(at)
}

/// Mean ranges at springs and neaps: both or neither; none only if they are wrong.
fn read_ranges(table: &mut Table<'_>) -> Option<Option<(Metres, Metres)>> {
    let springs = table.optional("spring_range_m");
    let neaps = table.optional("neap_range_m");
    match (springs, neaps) {
        (None, None) => Some(None),
        (Some(springs_value), Some(neaps_value)) => {
            let (springs, neaps) = (springs_value.number(0.1..=20.0), neaps_value.number(0.0..=20.0));
            let (springs, neaps) = (springs?, neaps?);
            if springs <= neaps {
                springs_value.mistake(format!("more than {neaps}, neap_range_m"));
                return None;
            }
            Some(Some((Metres(springs), Metres(neaps))))
        }
        (Some(springs), None) => {
            springs.mistake("neap_range_m beside it");
            None
        }
        (None, Some(neaps)) => {
            neaps.mistake("spring_range_m beside it");
            None
        }
    }
}

fn read_stream(value: Option<Value<'_>>) -> Option<Vec<StreamRow>> {
    let mut seen: Vec<Option<i8>> = Vec::new();
    let mut rows = entries_between(value, 2, 13, |_, row| read_row(row, &mut seen))?;
    rows.sort_by_key(|row| row.hour);
    Some(rows)
}

fn read_row(table: &mut Table<'_>, seen: &mut Vec<Option<i8>>) -> Option<StreamRow> {
    let hour_value = table.required("hour", "hours from high water, -6 to 6, before it negative");
    let hour = hour_value.as_ref().and_then(|value| value.whole_between(-6..=6));
    if let (Some(first), Some(value)) = (
        seen.iter().position(|other| hour.is_some() && *other == hour),
        hour_value,
    ) {
        value.mistake(format!("an hour of its own (stream[{first}] has this one)"));
    }
    seen.push(hour);
    let set = super::venues::degrees(table, "set_deg", "where the stream sets, degrees true");
    let springs_value = table.required("springs_kn", "its rate at springs");
    let springs = springs_value.as_ref().and_then(|value| value.number(0.0..=15.0));
    let neaps = table
        .required("neaps_kn", "its rate at neaps")
        .and_then(|value| value.number(0.0..=15.0));
    if let (Some(springs), Some(neaps), Some(value)) = (springs, neaps, springs_value)
        && springs < neaps
    {
        value.mistake(format!("at least {neaps}, neaps_kn (springs run harder)"));
    }
    Some(StreamRow {
        hour: hour?,
        set: Bearing::new(set?),
        springs: Knots(springs?),
        neaps: Knots(neaps?),
    })
}

/// When there is water enough in an entrance.
pub(crate) fn read_gate(table: &mut Table<'_>) -> Option<TideGate> {
    let opens = table.required("opens_before_h", "hours before high water it opens");
    let opens = opens.and_then(|value| value.number(0.0..=12.0));
    let shuts_value = table.required("shuts_after_h", "hours after high water it shuts");
    let shuts = shuts_value.as_ref().and_then(|value| value.number(0.0..=12.0));
    let gate = TideGate {
        opens_before_h: opens?,
        shuts_after_h: shuts?,
    };
    if gate.opens_before_h + gate.shuts_after_h == 0.0 {
        if let Some(value) = shuts_value {
            value.mistake("more than 0, or opens_before_h more than 0: this gate never opens");
        }
        return None;
    }
    Some(gate)
}
