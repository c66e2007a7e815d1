//! Reads crew experience levels and their limits.
//!
//! Owns: `[[levels]]`, `[levels.limits]`, `[[levels.syllabus]]`, and that caution comes before stop. Must not know: boats, sessions.

use super::{Table, entries};
use crate::level::{Lesson, Level, Limit, Limits, Quantity};
use chrono::TimeDelta;
use seaway::{Knots, Metres};
use std::ops::RangeInclusive;

/// Mean wind below which a go is light, where the level does not say (6 kn, no source: common practice).
const LIGHT_BELOW_KN: f64 = 6.0;
/// Hours looked ahead for the plan to leave with, where the level does not say (2 h, no source: common practice).
const REEF_AHEAD_H: f64 = 2.0;
/// Lessons of one syllabus at most.
const LESSONS_AT_MOST: usize = 100;

/// Reads one level; `index` is its place in the list, which runs from the least experienced up.
pub(crate) fn read_level(index: usize, table: &mut Table<'_>) -> Option<Level> {
    let id = table
        .required("id", "the level's key")
        .and_then(|value| value.key());
    let name = table
        .required("name", "the level's name")
        .and_then(|value| value.text());
    let light_below = table
        .optional("light_below_kn")
        .map_or(Some(LIGHT_BELOW_KN), |value| value.number(0.0..=30.0));
    let light_programme = table.optional("light_programme").map(|value| value.text());
    let extra_reefs = table
        .optional("extra_reefs")
        .map_or(Some(0), |value| value.whole(0..=5));
    let reef_ahead_h = table
        .optional("reef_ahead_h")
        .map_or(Some(REEF_AHEAD_H), |value| value.number(0.0..=24.0));
    let accumulate = table
        .optional("accumulate")
        .map_or(Some(index == 0), |value| value.truth());
    let learners = table
        .optional("learners")
        .map_or(Some(index < 2), |value| value.truth());
    let thunder_stops = table
        .optional("thunder_stops")
        .map_or(Some(index == 0), |value| value.truth());
    let syllabus = match table.optional("syllabus") {
        None => Some(Vec::new()),
        value => entries(value, LESSONS_AT_MOST, |_, lesson| read_lesson(lesson)),
    };
    let limits = read_limits(table);
    Some(Level {
        id: id?,
        name: name?,
        limits: limits?,
        light_below: Knots(light_below?),
        light_programme: light_programme.flatten(),
        extra_reefs: extra_reefs?,
        reef_ahead: TimeDelta::minutes((reef_ahead_h? * 60.0).round() as i64),
        accumulate: accumulate?,
        learners: learners?,
        thunder_stops: thunder_stops?,
        syllabus: syllabus?,
    })
}

fn read_lesson(table: &mut Table<'_>) -> Option<Lesson> {
    let name = table
        .required("name", "the lesson's name")
        .and_then(|value| value.text());
    let wind = optional_band(table, "wind_kn", 0.0..=100.0);
    let wave = optional_band(table, "wave_m", 0.0..=20.0);
    let light_air = table
        .optional("light_air")
        .map_or(Some(false), |value| value.truth());
    Some(Lesson {
        name: name?,
        wind: wind?.map(|(from, to)| (Knots(from), Knots(to))),
        wave: wave?.map(|(from, to)| (Metres(from), Metres(to))),
        light_air: light_air?,
    })
}

/// A band that may be left out: none only if it is wrong.
fn optional_band(
    table: &mut Table<'_>,
    key: &'static str,
    range: RangeInclusive<f64>,
) -> Option<Option<(f64, f64)>> {
    match table.optional(key) {
        None => Some(None),
        Some(value) => value.band(range).map(Some),
    }
}

fn read_limits(level: &mut Table<'_>) -> Option<Limits> {
    let expected = "the level's limits, such as mean_kn = { caution_at = 14, stop_at = 18 }";
    let value = level.required("limits", expected)?;
    let mut table = value.table()?;
    let mut all_read = true;
    let mut limits = Limits::new();
    for quantity in Quantity::ALL {
        let Some(pair) = table.optional(quantity.key()) else {
            continue;
        };
        let read = pair.table().and_then(|mut pair| {
            let limit = read_limit(quantity, &mut pair);
            pair.finish();
            limit
        });
        all_read &= read.is_some();
        limits.extend(read.map(|limit| (quantity, limit)));
    }
    table.finish();
    if limits.is_empty() && all_read {
        value.mistake_found("no limit", expected);
        return None;
    }
    all_read.then_some(limits)
}

/// A pair of caution and stop on a quantity.
pub(crate) fn read_limit(quantity: Quantity, pair: &mut Table<'_>) -> Option<Limit> {
    let range = possible(quantity);
    let caution = pair
        .required("caution_at", "where caution starts")
        .and_then(|value| value.number(range.clone()));
    let stop_value = pair.required("stop_at", "where it stops");
    let stop = stop_value.as_ref().and_then(|value| value.number(range));
    let limit = Limit {
        caution_at: caution?,
        stop_at: stop?,
    };
    let stops_first = if quantity.lower_is_worse() {
        (limit.stop_at > limit.caution_at).then_some("at most")
    } else {
        (limit.stop_at < limit.caution_at).then_some("at least")
    };
    if let (Some(bound), Some(value)) = (stops_first, stop_value) {
        value.mistake(format!(
            "{bound} {}, where caution starts (caution comes first)",
            limit.caution_at
        ));
    }
    Some(limit)
}

/// What a limit on a quantity can be at all, in the quantity's unit; beyond it the unit was surely mistaken.
fn possible(quantity: Quantity) -> RangeInclusive<f64> {
    match quantity {
        Quantity::Mean | Quantity::Gust | Quantity::BerthCrosswind => 1.0..=100.0,
        Quantity::WaveHeight => 0.1..=20.0,
        Quantity::Steepness => 0.001..=0.2,
        Quantity::CapeWithRain => 1.0..=10_000.0,
        Quantity::Visibility => 0.0..=50_000.0,
        Quantity::WindChill => -60.0..=40.0,
        Quantity::WaterTemperature => -3.0..=40.0,
        Quantity::DaylightMargin => -720.0..=1440.0,
    }
}
