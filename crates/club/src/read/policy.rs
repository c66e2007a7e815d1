//! Reads the club's policy: numbers of common practice, each with a default the club can change.
//!
//! Owns: `[policy]`. Must not know: how the numbers are used.

use super::value::Value;
use super::{Table, entries};
use crate::mistake::nearest;
use crate::policy::{Combine, FloorPoint, Policy};
use crate::sources::{DETERMINISTIC_SOURCES, WAVE_SOURCES, WEATHER_SOURCES, WIND_SOURCES, is_own};
use seaway::Knots;
use std::ops::RangeInclusive;

/// Reads `[policy]`; every key may be left out, and so may the table.
pub(crate) fn read_policy(root: &mut Table<'_>) -> Policy {
    let mut policy = Policy::default();
    let Some(mut table) = root.optional("policy").and_then(|value| value.table()) else {
        return policy;
    };
    read_sources(&mut table, &mut policy);
    read_combine(&mut table, &mut policy);
    read_numbers(&mut table, &mut policy);
    read_passage_numbers(&mut table, &mut policy);
    read_sea_breeze(&mut table, &mut policy);
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

/// The numbers of calls, sources and cautions.
fn read_numbers(table: &mut Table<'_>, policy: &mut Policy) {
    let mut read = |key, range, default: &mut f64| number(table, key, range, default);
    // A threshold of 0 would call everything no-go, and one above 1 nothing.
    read("no_go_from", 0.01..=1.0, &mut policy.no_go_from);
    read("marginal_from", 0.01..=1.0, &mut policy.marginal_from);
    read("members_needed", 0.5..=1.0, &mut policy.members_needed);
    // Three days is the longest that any part of a run is still worth a call.
    read("stale_after_near_h", 1.0..=72.0, &mut policy.stale_after_near_h);
    read("stale_after_far_h", 1.0..=72.0, &mut policy.stale_after_far_h);
    read(
        "stale_after_regional_h",
        1.0..=72.0,
        &mut policy.stale_after_regional_h,
    );
    read("gust_factor_sea", 1.0..=3.0, &mut policy.gust_factor_sea);
    read("gust_factor_land", 1.0..=3.0, &mut policy.gust_factor_land);
    read("clip_on_gust_kn", 1.0..=100.0, &mut policy.clip_on_gust_kn.0);
    read("clip_on_wave_m", 0.1..=20.0, &mut policy.clip_on_wave_m.0);
    read("lee_shore_from_kn", 1.0..=100.0, &mut policy.lee_shore_from_kn.0);
    read(
        "lee_shore_within_nm",
        0.0..=100.0,
        &mut policy.lee_shore_within_nm.0,
    );
    read("preventer_from_deg", 90.0..=180.0, &mut policy.preventer_from_deg);
    read("berth_from_kn", 1.0..=100.0, &mut policy.berth_from_kn.0);
    read("dusk_within_min", 0.0..=720.0, &mut policy.dusk_within_min);
    read("thunder_cape_j_kg", 50.0..=5000.0, &mut policy.thunder_cape_j_kg);
    read("thunder_rain_mm_h", 0.1..=50.0, &mut policy.thunder_rain_mm_h);
    read(
        "poor_visibility_m",
        100.0..=20_000.0,
        &mut policy.poor_visibility_m.0,
    );
    read("fog_spread_c", 0.0..=10.0, &mut policy.fog_spread_c);
    read("cold_chill_c", -30.0..=20.0, &mut policy.cold_chill_c.0);
    read("cold_water_c", -2.0..=30.0, &mut policy.cold_water_c.0);
    read("steepness_from_m", 0.0..=5.0, &mut policy.steepness_from_m.0);
}

/// The numbers of squalls, fronts, streams, the entrance and the way home.
fn read_passage_numbers(table: &mut Table<'_>, policy: &mut Policy) {
    let mut read = |key, range, default: &mut f64| number(table, key, range, default);
    read(
        "squall_stop_cape_j_kg",
        50.0..=5000.0,
        &mut policy.squall_stop_cape_j_kg,
    );
    read(
        "squall_stop_rain_mm_h",
        0.1..=50.0,
        &mut policy.squall_stop_rain_mm_h,
    );
    // Half a turn is the largest change of direction there is.
    read("front_veer_deg", 5.0..=180.0, &mut policy.front_veer_deg);
    read("front_within_h", 1.0..=12.0, &mut policy.front_within_h);
    read("front_gust_factor", 1.0..=3.0, &mut policy.front_gust_factor);
    read(
        "stream_against_from_kn",
        0.1..=15.0,
        &mut policy.stream_against_from_kn.0,
    );
    read(
        "stream_against_wind_kn",
        0.0..=100.0,
        &mut policy.stream_against_wind_kn.0,
    );
    read("entrance_sea_m", 0.1..=20.0, &mut policy.entrance_sea_m.0);
    read("rise_kn", 0.5..=50.0, &mut policy.rise_kn.0);
    read("shift_deg", 5.0..=180.0, &mut policy.shift_deg);
    // At no speed made good she never comes home.
    read("home_made_good_kn", 0.5..=15.0, &mut policy.home_made_good_kn.0);
    read("home_spare_min", 0.0..=720.0, &mut policy.home_spare_min);
    read("chop_widens_deg", 0.0..=30.0, &mut policy.chop_widens_deg);
    read(
        "another_venue_within_nm",
        0.0..=500.0,
        &mut policy.another_venue_within_nm.0,
    );
    read("limits_tightest", 0.5..=1.0, &mut policy.limits_tightest);
    read("learned_at_least", 0.5..=1.0, &mut policy.learned_at_least);
    read(
        "learned_from_hours",
        1.0..=10_000.0,
        &mut policy.learned_from_hours,
    );
    read("kinder_margin_kn", 0.1..=20.0, &mut policy.kinder_margin_kn.0);
    read("kinder_probability", 0.01..=1.0, &mut policy.kinder_probability);
    read("firm_within_h", 0.0..=384.0, &mut policy.firm_within_h);
    read("firm_agreement", 0.5..=1.0, &mut policy.firm_agreement);
    read("likely_within_h", 0.0..=384.0, &mut policy.likely_within_h);
    read("likely_agreement", 0.01..=1.0, &mut policy.likely_agreement);
}

fn read_sea_breeze(table: &mut Table<'_>, policy: &mut Policy) {
    number(
        table,
        "sea_breeze_warmer_c",
        0.5..=30.0,
        &mut policy.sea_breeze_warmer_c,
    );
    number(
        table,
        "sea_breeze_below_kn",
        1.0..=100.0,
        &mut policy.sea_breeze_below_kn.0,
    );
    if let Some(from) = table
        .optional("sea_breeze_from")
        .and_then(|value| value.time_of_day())
    {
        policy.sea_breeze_from = from;
    }
    let mean = table.optional("sea_breeze_mean_kn");
    let gust = table.optional("sea_breeze_gust_kn");
    let wind = |value: &Option<Value<'_>>, default: Knots| match value {
        Some(value) => value.number(1.0..=100.0).map(Knots),
        None => Some(default),
    };
    let read = (
        wind(&mean, policy.sea_breeze_mean_kn),
        wind(&gust, policy.sea_breeze_gust_kn),
    );
    let (Some(mean_kn), Some(gust_kn)) = read else {
        return;
    };
    if gust_kn < mean_kn {
        match (gust, mean) {
            (Some(gust), _) => gust.mistake(format!("at least {}, sea_breeze_mean_kn", mean_kn.0)),
            (None, Some(mean)) => mean.mistake(format!("at most {}, sea_breeze_gust_kn", gust_kn.0)),
            (None, None) => {}
        }
    }
    policy.sea_breeze_mean_kn = mean_kn;
    policy.sea_breeze_gust_kn = gust_kn;
}

fn read_combine(table: &mut Table<'_>, policy: &mut Policy) {
    let word = table
        .optional("combine")
        .and_then(|value| value.one_of(&["worse", "mean"]));
    policy.combine = match word {
        Some("mean") => Combine::Mean,
        _ => Combine::Worse,
    };
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
    if known.contains(&name) || is_own(name) {
        return Some(name.to_owned());
    }
    value.mistake(match nearest(name, known.iter().copied()) {
        Some(near) => format!("a source that serves this, perhaps \"{near}\""),
        None => format!(
            "a source that serves this: {}, or own-NAME of the settings",
            known.join(", ")
        ),
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
