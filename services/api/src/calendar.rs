//! An advisory as one event of iCalendar (RFC 5545).
//!
//! Calendars keep copies: the summary says when the call was issued, and an old advisory is written as old.

use advisory::document::Advisory;
use chrono::{DateTime, Utc};
use icalendar::{Calendar, Component, Event, EventLike};

/// Who made it (PRODID).
const PRODUCT: &str = "-//Cringle//Advisories//EN";

/// The event. `revision` counts the issues for the session from 1; an event's sequence begins with 0.
pub(crate) fn event(advisory: &Advisory, revision: i64, now: DateTime<Utc>) -> String {
    let session = &advisory.session;
    let mut event = Event::new();
    event
        .uid(&plain(&format!("{}@{}", session.id, advisory.club.slug)))
        .timestamp(advisory.issued_at.to_utc())
        .sequence(u32::try_from(revision - 1).unwrap_or(0))
        .starts(session.leaves.to_utc())
        .ends(session.alongside.to_utc())
        .summary(&plain(&summary(advisory, now)))
        .location(&plain(&session.venue.name))
        .description(&plain(&description(advisory, now)));
    let mut calendar = Calendar::empty();
    calendar
        .append_property(("VERSION", "2.0"))
        .append_property(("PRODID", PRODUCT))
        .append_property(("CALSCALE", "GREGORIAN"))
        .push(event.done());
    calendar.to_string()
}

/// "Marginal (issued Sat 17 Oct 06:20): Dunlin, First days".
fn summary(advisory: &Advisory, now: DateTime<Utc>) -> String {
    let session = &advisory.session;
    let call = if is_old(advisory, now) {
        "Old: no call"
    } else {
        advisory.call.words()
    };
    let issued = advisory.issued_at.format("%a %-d %b %H:%M");
    format!(
        "{call} (issued {issued}): {}, {}",
        session.boat.name, session.level.name
    )
}

fn description(advisory: &Advisory, now: DateTime<Utc>) -> String {
    let until = advisory.valid_until.format("%a %-d %b %H:%M");
    let mut lines = match is_old(advisory, now) {
        true => vec![format!(
            "This advisory was valid until {until}. Look for a newer one before anything is decided."
        )],
        false => vec![
            advisory.summary.clone(),
            advisory.wind_words.clone(),
            format!("Valid until {until}; after that it is old and no call."),
        ],
    };
    lines.push(advisory.caution_to_all.clone());
    lines.push(advisory.warnings.clone());
    lines.retain(|line| !line.is_empty());
    lines.join("\n")
}

fn is_old(advisory: &Advisory, now: DateTime<Utc>) -> bool {
    now > advisory.valid_until
}

/// Without control characters but the line break, which the calendar's text may hold.
fn plain(words: &str) -> String {
    words
        .chars()
        .filter(|letter| !letter.is_control() || *letter == '\n')
        .collect()
}
