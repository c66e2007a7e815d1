//! Reads the club's policy: numbers of common practice, each with a default the club can change.
//!
//! Owns: `[policy]`. Must not know: how the numbers are used.

use super::value::Value;
use super::{Table, entries};
use crate::mistake::nearest;
use crate::policy::{FloorPoint, Policy};
use crate::sources::{DETERMINISTIC_SOURCES, WAVE_SOURCES, WEATHER_SOURCES, WIND_SOURCES};
use seaway::Knots;
use std::ops::RangeInclusive;

/// Reads `[policy]`; every key may be left out, and so may the table.
pub(crate) fn read_policy(root: &mut Table<'_>) -> Policy {
    let mut policy = Policy::default();
    let Some(mut table) = root.optional("policy").and_then(|value| value.table()) else {
        return policy;
    };
    read_sources(&mut table, &mut policy);
    read_numbers(&mut table, &mut policy);
    read_spread_floor(&mut table, &mut policy);
    table.finish();
    policy
}

fn read_sources(table: &mut Table<'_>, policy: &mut Policy) {
    sources(table, "wind_sources", &WIND_SOURCES, &mut policy.wind_sources);
    sources(
        table,
        "deterministic_sources",
        &DETERMINISTIC_SOURCES,
        &mut policy.deterministic_sources,
    );
    sources(table, "wave_sources", &WAVE_SOURCES, &mut policy.wave_sources);
    sources(
        table,
        "weather_sources",
        &WEATHER_SOURCES,
        &mut policy.weather_sources,
    );
}

fn read_numbers(table: &mut Table<'_>, policy: &mut Policy) {
    // A threshold of 0 would call everything no-go, and one above 1 nothing.
    let probability = 0.01..=1.0;
    number(table, "no_go_from", probability.clone(), &mut policy.no_go_from);
    number(table, "marginal_from", probability, &mut policy.marginal_from);
    number(table, "members_needed", 0.5..=1.0, &mut policy.members_needed);
    // Three days is the longest that any part of a run is still worth a call.
    number(
        table,
        "stale_after_near_h",
        1.0..=72.0,
        &mut policy.stale_after_near_h,
    );
    number(
        table,
        "stale_after_far_h",
        1.0..=72.0,
        &mut policy.stale_after_far_h,
    );
    number(table, "gust_factor_sea", 1.0..=3.0, &mut policy.gust_factor_sea);
    number(table, "gust_factor_land", 1.0..=3.0, &mut policy.gust_factor_land);
    number(
        table,
        "clip_on_gust_kn",
        1.0..=100.0,
        &mut policy.clip_on_gust_kn.0,
    );
    number(table, "clip_on_wave_m", 0.1..=20.0, &mut policy.clip_on_wave_m.0);
    number(
        table,
        "lee_shore_from_kn",
        1.0..=100.0,
        &mut policy.lee_shore_from_kn.0,
    );
    number(
        table,
        "lee_shore_within_nm",
        0.0..=100.0,
        &mut policy.lee_shore_within_nm.0,
    );
    number(
        table,
        "preventer_from_deg",
        90.0..=180.0,
        &mut policy.preventer_from_deg,
    );
    number(table, "berth_from_kn", 1.0..=100.0, &mut policy.berth_from_kn.0);
    number(table, "dusk_within_min", 0.0..=720.0, &mut policy.dusk_within_min);
    number(
        table,
        "thunder_cape_j_kg",
        50.0..=5000.0,
        &mut policy.thunder_cape_j_kg,
    );
    number(
        table,
        "thunder_rain_mm_h",
        0.1..=50.0,
        &mut policy.thunder_rain_mm_h,
    );
    number(
        table,
        "poor_visibility_m",
        100.0..=20_000.0,
        &mut policy.poor_visibility_m.0,
    );
    number(table, "fog_spread_c", 0.0..=10.0, &mut policy.fog_spread_c);
    number(table, "cold_chill_c", -30.0..=20.0, &mut policy.cold_chill_c.0);
    number(table, "cold_water_c", -2.0..=30.0, &mut policy.cold_water_c.0);
    number(
        table,
        "steepness_from_m",
        0.0..=5.0,
        &mut policy.steepness_from_m.0,
    );
}

/// Overwrites a default with the file's number, if it gives one.
fn number(table: &mut Table<'_>, key: &'static str, range: RangeInclusive<f64>, default: &mut f64) {
    if let Some(number) = table.optional(key).and_then(|value| value.number(range)) {
        *default = number;
    }
}

/// Overwrites a default with the file's sources, best first, if it gives any.
fn sources(table: &mut Table<'_>, key: &'static str, known: &[&str], default: &mut Vec<String>) {
    let Some(listed) = table.optional(key).and_then(|value| value.list(1, known.len())) else {
        return;
    };
    let mut read: Vec<String> = Vec::new();
    for value in listed {
        if let Some(name) = source(&value, known) {
            if read.contains(&name) {
                value.mistake("each source once");
            }
            read.push(name);
        }
    }
    *default = read;
}

fn source(value: &Value<'_>, known: &[&str]) -> Option<String> {
    let name = value.raw_text().unwrap_or("");
    if known.contains(&name) {
        return Some(name.to_owned());
    }
    value.mistake(match nearest(name, known.iter().copied()) {
        Some(near) => format!("a source that serves this, perhaps \"{near}\""),
        None => format!("a source that serves this: {}", known.join(", ")),
    });
    None
}

fn read_spread_floor(table: &mut Table<'_>, policy: &mut Policy) {
    let Some(value) = table.optional("spread_floor") else {
        return;
    };
    let mut lead_before: Option<f64> = None;
    let points = entries(Some(value), 20, |_, point| {
        let lead = point.required("lead_h", "hours after the run's reference");
        let lead_h = lead.as_ref().and_then(|value| value.number(0.0..=384.0));
        let speed = point.required("speed_kn", "the least spread of the mean wind");
        // Never zero: a spread of nothing would claim that the forecast cannot be wrong.
        let speed = speed.and_then(|value| value.number(0.1..=20.0));
        let timing = point.required("timing_h", "how early or late a change may come");
        let timing_h = timing.and_then(|value| value.number(0.0..=24.0));
        if let (Some(before), Some(lead_h), Some(lead)) = (lead_before, lead_h, lead)
            && lead_h <= before
        {
            lead.mistake(format!("more than {before}, the point before (points rise)"));
        }
        lead_before = lead_h.or(lead_before);
        Some(FloorPoint {
            lead_h: lead_h?,
            speed: Knots(speed?),
            timing_h: timing_h?,
        })
    });
    if let Some(points) = points {
        policy.spread_floor = points;
    }
}
