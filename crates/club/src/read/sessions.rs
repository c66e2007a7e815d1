//! Reads sessions: who goes out when, once or by a recurrence rule.
//!
//! Owns: `[[sessions]]`, and that a session ends after it starts. Must not know: what the boats and levels say.

use super::value::Value;
use super::{Table, entries, index_of};
use crate::mistake::Mistake;
use crate::model::{Leg, SessionRule};
use crate::recurrence::{first_wall_time, instant_of, rule_set};
use chrono::{NaiveDateTime, TimeDelta};
use chrono_tz::Tz;
use seaway::{Bearing, NauticalMiles};

/// Legs of one session at most.
const LEGS_AT_MOST: usize = 50;
/// Minutes of the longest session: sessions are day sails.
const LASTS_AT_MOST_MIN: i64 = 24 * 60;

/// What a session may refer to: the keys of the other lists, and the club's zone if it is one.
pub(crate) struct Known<'k> {
    pub(crate) venues: &'k [&'k str],
    pub(crate) boats: &'k [&'k str],
    pub(crate) levels: &'k [&'k str],
    pub(crate) zone: Option<Tz>,
}

/// Reads one session; what is odd but possible is added to `warnings`.
pub(crate) fn read_session(
    table: &mut Table<'_>,
    known: &Known<'_>,
    warnings: &mut Vec<Mistake>,
) -> Option<SessionRule> {
    let id = table
        .required("id", "the session's key")
        .and_then(|value| value.key());
    let venue = index_of(
        table.required("venue", "the id of a venue"),
        known.venues,
        "venue",
    );
    let boat = index_of(table.required("boat", "the id of a boat"), known.boats, "boat");
    let level = index_of(
        table.required("level", "the id of a level"),
        known.levels,
        "level",
    );
    let starts_value = table.required("starts", "when it leaves first, such as \"2030-05-14T10:00\"");
    let starts = starts_value.as_ref().and_then(|value| value.wall_time());
    let lasts = read_lasts(table, starts, known.zone);
    let recurrence = table
        .optional("repeat")
        .map(|value| read_repeat(table, &value, starts, known.zone, warnings));
    let legs = match table.optional("legs") {
        None => Some(Vec::new()),
        value => entries(value, LEGS_AT_MOST, |_, leg| read_leg(leg)),
    };
    Some(SessionRule {
        id: id?,
        venue: venue?,
        boat: boat?,
        level: level?,
        leaves: starts?,
        lasts: lasts?,
        recurrence: recurrence.flatten(),
        legs: legs?,
    })
}

/// How long it lasts, from `ends` or `lasts_min`, exactly one of which is given.
fn read_lasts(table: &mut Table<'_>, starts: Option<NaiveDateTime>, zone: Option<Tz>) -> Option<TimeDelta> {
    let ends = table.optional("ends");
    let lasts = table.optional("lasts_min");
    match (ends, lasts) {
        (Some(ends), None) => read_ends(&ends, starts, zone),
        (None, Some(lasts)) => {
            let minutes = lasts.number(1.0..=LASTS_AT_MOST_MIN as f64)?;
            Some(TimeDelta::minutes(minutes.round() as i64))
        }
        (Some(_), Some(lasts)) => {
            lasts.mistake_found("both ends and lasts_min", "one of them");
            None
        }
        (None, None) => {
            table.mistake(
                "ends",
                "nothing",
                "when she is alongside, such as \"13:00\", or lasts_min",
            );
            None
        }
    }
}

/// The time from leaving to `ends`, a time of the same day or a date and time, by the club's clocks.
fn read_ends(ends: &Value<'_>, starts: Option<NaiveDateTime>, zone: Option<Tz>) -> Option<TimeDelta> {
    let same_day = ends.time_of_day_unless_dated();
    let dated = if same_day.is_none() {
        Some(ends.wall_time()?)
    } else {
        None
    };
    let starts = starts?;
    let ends_at = same_day.map(|time| starts.date().and_time(time)).or(dated)?;
    // RFC 5545, 3.8.5.3: the exact duration of the first instance is that of all, whatever the clocks do later.
    let lasts = match zone {
        Some(zone) => instant_of(ends_at, zone) - instant_of(starts, zone),
        None => ends_at - starts,
    };
    if lasts <= TimeDelta::zero() {
        ends.mistake(format!(
            "after {}, when it starts",
            starts.format("%Y-%m-%d %H:%M")
        ));
        return None;
    }
    if lasts > TimeDelta::minutes(LASTS_AT_MOST_MIN) {
        ends.mistake("at most 24 hours after it starts");
        return None;
    }
    Some(lasts)
}

fn read_repeat(
    table: &Table<'_>,
    value: &Value<'_>,
    starts: Option<NaiveDateTime>,
    zone: Option<Tz>,
    warnings: &mut Vec<Mistake>,
) -> Option<String> {
    let text = value.text()?.to_ascii_uppercase();
    let starts = starts?;
    // Without a zone the rule is still worth checking; only the last day of UNTIL could differ.
    match rule_set(&text, starts, zone.unwrap_or(Tz::UTC)) {
        Err(error) => value.mistake(error.to_string()),
        Ok(rules) => match first_wall_time(rules) {
            None => value.mistake("a rule that gives at least one session"),
            Some(first) if first != starts => warnings.push(table.describe(
                value.at(),
                "repeat",
                format!(
                    "a rule that leaves out {}, when it starts",
                    starts.format("%A %Y-%m-%d %H:%M")
                ),
                format!(
                    "starts on the first session, {} by this rule",
                    first.format("%A %Y-%m-%d %H:%M")
                ),
            )),
            Some(_) => {}
        },
    }
    Some(text)
}

fn read_leg(table: &mut Table<'_>) -> Option<Leg> {
    let bearing = table.required("bearing_deg", "the leg's course, degrees true");
    let bearing = bearing.and_then(|value| value.number(0.0..=360.0));
    let distance = table
        .required("distance_nm", "the leg's length")
        .and_then(|value| value.number(0.05..=200.0));
    Some(Leg {
        bearing: Bearing::new(bearing?),
        distance: NauticalMiles(distance?),
    })
}
