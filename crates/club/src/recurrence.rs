//! When sessions take place: RFC 5545 recurrence in the club's wall time, and what clock changes do to it.
//!
//! Owns: checking a rule, expanding it, turning wall time into an instant. Must not know: forecasts, the clock.
//!
//! A rule is expanded over wall time as if it had no zone, and each wall time is then placed on the zone's clock. So a
//! session keeps its hour over clock changes, and one whose hour a change skips is still one session.

use crate::model::{Club, SessionRule};
use chrono::{DateTime, LocalResult, NaiveDateTime, Offset, TimeDelta, TimeZone, Utc};
use chrono_tz::{GapInfo, Tz};
use rrule::{RRule, RRuleError, RRuleSet, Unvalidated};
use thiserror::Error;

/// Most sessions that one question is answered with.
pub const OCCURRENCES_AT_MOST: usize = 1000;
/// Sessions that may fall into the margin around the window asked for: 24 an hour-list a day, over two days.
const IN_THE_MARGIN: u16 = 100;
/// No zone is further from UTC, and no clock change is larger, than both together are.
const MARGIN: TimeDelta = TimeDelta::hours(14 + 24);
/// Highest COUNT.
const COUNT_AT_MOST: u32 = 10_000;

/// Parts of a rule that a day session can have a use for.
const PARTS: [&str; 12] = [
    "FREQ",
    "UNTIL",
    "COUNT",
    "INTERVAL",
    "BYDAY",
    "BYMONTHDAY",
    "BYYEARDAY",
    "BYWEEKNO",
    "BYMONTH",
    "BYSETPOS",
    "BYHOUR",
    "WKST",
];

/// One session on the calendar.
#[derive(Clone, Debug, PartialEq)]
pub struct Occurrence {
    /// Index into `Club::sessions`.
    pub session: usize,
    /// Stable key: the session's id and its wall time by the rule, for example `first-sail@2030-05-14T13:00`.
    pub id: String,
    /// Leaving.
    pub leaves: DateTime<Utc>,
    /// Being alongside.
    pub alongside: DateTime<Utc>,
    /// Leaving, by the club's clocks.
    pub leaves_local: DateTime<Tz>,
}

/// Why a recurrence rule cannot be used. Each message says what was expected.
#[derive(Debug, Error)]
pub(crate) enum RepeatError {
    #[error(
        "an RFC 5545 rule such as \"FREQ=WEEKLY;BYDAY=TU,TH\": NAME=VALUE parts joined by semicolons, each once"
    )]
    Form,
    #[error("FREQ to be YEARLY, MONTHLY, WEEKLY or DAILY")]
    Frequency,
    #[error("only the parts {}, not {name}", PARTS.join(", "))]
    Part { name: String },
    #[error("BYDAY to list MO, TU, WE, TH, FR, SA, SU, with a number before them only if monthly or yearly")]
    Days,
    #[error(
        "UNTIL as a date and time, such as UNTIL=20301031T235959 by the club's clocks, or with a Z at the end for UTC"
    )]
    Until,
    #[error("a COUNT and an INTERVAL from 1 to {COUNT_AT_MOST}, and not both COUNT and UNTIL")]
    Bounds,
    #[error("a rule that RFC 5545 allows: {0}")]
    Rejected(#[from] RRuleError),
}

/// All sessions that leave from `from` (included) to `to` (excluded), sorted by leaving; at most `OCCURRENCES_AT_MOST`.
///
/// A wall time that a clock change skips moves forward by the gap; one that happens twice is the first of the two
/// (RFC 5545, 3.3.5). A rule that begins after its `starts` begins where the rule does.
pub fn occurrences(club: &Club, from: DateTime<Utc>, to: DateTime<Utc>) -> Vec<Occurrence> {
    let mut found: Vec<Occurrence> = Vec::new();
    for (index, session) in club.sessions.iter().enumerate() {
        let walls = wall_times(session, club.time_zone, from, to);
        found.extend(
            walls
                .into_iter()
                .filter_map(|wall| occurrence(index, session, wall, club.time_zone)),
        );
    }
    found.retain(|occurrence| from <= occurrence.leaves && occurrence.leaves < to);
    found.sort_by(|one, other| {
        (one.leaves, one.session, &one.id).cmp(&(other.leaves, other.session, &other.id))
    });
    found.truncate(OCCURRENCES_AT_MOST);
    found
}

fn occurrence(index: usize, session: &SessionRule, wall: NaiveDateTime, zone: Tz) -> Option<Occurrence> {
    let leaves_local = instant_of(wall, zone);
    let leaves = leaves_local.to_utc();
    Some(Occurrence {
        session: index,
        id: format!("{}@{}", session.id, wall.format("%Y-%m-%dT%H:%M")),
        leaves,
        alongside: leaves.checked_add_signed(session.lasts)?,
        leaves_local,
    })
}

/// Wall times of a session that may lie in a window of instants, with a margin on both sides.
fn wall_times(session: &SessionRule, zone: Tz, from: DateTime<Utc>, to: DateTime<Utc>) -> Vec<NaiveDateTime> {
    let Some(repeat) = &session.recurrence else {
        return vec![session.leaves];
    };
    let Ok(rules) = rule_set(repeat, session.leaves, zone) else {
        return Vec::new();
    };
    let after = from
        .checked_sub_signed(MARGIN)
        .unwrap_or(from)
        .with_timezone(&rrule::Tz::UTC);
    let before = to
        .checked_add_signed(MARGIN)
        .unwrap_or(to)
        .with_timezone(&rrule::Tz::UTC);
    let at_most = IN_THE_MARGIN.saturating_add(OCCURRENCES_AT_MOST as u16);
    rules
        .after(after)
        .before(before)
        .all(at_most)
        .dates
        .iter()
        .map(DateTime::naive_utc)
        .collect()
}

/// The first wall time a rule gives.
pub(crate) fn first_wall_time(rules: RRuleSet) -> Option<NaiveDateTime> {
    rules.all(1).dates.first().map(DateTime::naive_utc)
}

/// The instant of a wall time in a zone.
///
/// RFC 5545, 3.3.5: a time that does not occur is read with the offset before the gap (02:30 becomes 03:30), a time
/// that occurs twice is the first.
pub fn instant_of(wall: NaiveDateTime, zone: Tz) -> DateTime<Tz> {
    match zone.from_local_datetime(&wall) {
        LocalResult::Single(instant) | LocalResult::Ambiguous(instant, _) => instant,
        LocalResult::None => {
            let before = GapInfo::new(&wall, &zone)
                .and_then(|gap| gap.begin)
                .map(|(_, offset)| offset.fix());
            let offset = before.unwrap_or_else(|| zone.offset_from_utc_datetime(&wall).fix());
            zone.from_utc_datetime(&(wall - offset))
        }
    }
}

/// Checks a rule and makes it ready to expand over wall time, which is given to the library as if it were UTC.
///
/// The library alone would read an UNTIL without zone in the machine's own zone, take any letters before a weekday,
/// and repeat by the second.
pub(crate) fn rule_set(repeat: &str, starts: NaiveDateTime, zone: Tz) -> Result<RRuleSet, RepeatError> {
    let parts = parts_of(repeat)?;
    check_parts(&parts)?;
    let without_until: Vec<String> = parts
        .iter()
        .filter(|(name, _)| *name != "UNTIL")
        .map(|(name, value)| format!("{name}={value}"))
        .collect();
    let mut rule: RRule<Unvalidated> = without_until.join(";").parse()?;
    if let Some(until) = value_of(&parts, "UNTIL") {
        rule = rule.until(rrule::Tz::UTC.from_utc_datetime(&wall_until(until, zone)?));
    }
    Ok(rule.build(rrule::Tz::UTC.from_utc_datetime(&starts))?)
}

type Parts<'r> = Vec<(&'r str, &'r str)>;

fn value_of<'r>(parts: &Parts<'r>, name: &str) -> Option<&'r str> {
    parts
        .iter()
        .find(|(part, _)| *part == name)
        .map(|(_, value)| *value)
}

fn parts_of(repeat: &str) -> Result<Parts<'_>, RepeatError> {
    let mut parts: Parts<'_> = Vec::new();
    for part in repeat.split(';') {
        let (name, value) = part.split_once('=').ok_or(RepeatError::Form)?;
        let plain = |byte: u8| byte.is_ascii_uppercase() || byte.is_ascii_digit() || b",+-".contains(&byte);
        if value.is_empty() || !value.bytes().all(plain) || value_of(&parts, name).is_some() {
            return Err(RepeatError::Form);
        }
        if !PARTS.contains(&name) {
            return Err(RepeatError::Part {
                name: crate::mistake::quoted(name),
            });
        }
        parts.push((name, value));
    }
    Ok(parts)
}

fn check_parts(parts: &Parts<'_>) -> Result<(), RepeatError> {
    let frequency = value_of(parts, "FREQ").unwrap_or("");
    if !["YEARLY", "MONTHLY", "WEEKLY", "DAILY"].contains(&frequency) {
        return Err(RepeatError::Frequency);
    }
    // RFC 5545: a numbered weekday only with MONTHLY or YEARLY, and with YEARLY not beside BYWEEKNO.
    let numbered = frequency == "MONTHLY" || (frequency == "YEARLY" && value_of(parts, "BYWEEKNO").is_none());
    if let Some(days) = value_of(parts, "BYDAY")
        && !days.split(',').all(|day| is_weekday(day, numbered))
    {
        return Err(RepeatError::Days);
    }
    let count = value_of(parts, "COUNT").map_or(Some(1), |count| count.parse().ok());
    let interval = value_of(parts, "INTERVAL").map_or(Some(1), |interval| interval.parse().ok());
    let within = |number: Option<u32>| number.is_some_and(|number| (1..=COUNT_AT_MOST).contains(&number));
    let both = value_of(parts, "COUNT").is_some() && value_of(parts, "UNTIL").is_some();
    if both || !within(count) || !within(interval) {
        Err(RepeatError::Bounds)
    } else {
        Ok(())
    }
}

/// Whether it is MO to SU, after a number such as 2 or -1 if those are allowed.
fn is_weekday(day: &str, numbered: bool) -> bool {
    let Some((number, weekday)) = day.len().checked_sub(2).and_then(|at| day.split_at_checked(at)) else {
        return false;
    };
    let number_fits = number.is_empty() || (numbered && number.parse::<i8>().is_ok_and(|number| number != 0));
    ["MO", "TU", "WE", "TH", "FR", "SA", "SU"].contains(&weekday) && number_fits
}

/// The last wall time a rule reaches to.
fn wall_until(until: &str, zone: Tz) -> Result<NaiveDateTime, RepeatError> {
    let (written, is_utc) = until
        .strip_suffix('Z')
        .map_or((until, false), |written| (written, true));
    let time = NaiveDateTime::parse_from_str(written, "%Y%m%dT%H%M%S").map_err(|_| RepeatError::Until)?;
    Ok(if is_utc {
        zone.from_utc_datetime(&time).naive_local()
    } else {
        time
    })
}
