//! Advisories as events of iCalendar (RFC 5545, and RFC 7986 for what is said of a whole calendar).
//!
//! Owns: what an event says and in what order: what the club decided, the call, when it was issued. Must not know: how a
//! calendar is asked for.
//!
//! Calendars keep copies for hours: the summary says when the call was issued, and an old advisory is written as old. Times
//! are in UTC, so that no calendar needs to know the club's zone and its clock changes.

use crate::credit::runs_used;
use crate::shown::{Shown, decides};
use crate::wording::{day_clock, ended};
use advisory::document::{Advisory, ClubName};
use advisory::{Decided, Decision};
use chrono::{DateTime, Utc};
use icalendar::{Calendar, Component, Event, EventLike, EventStatus};

/// Who made it (PRODID).
const PRODUCT: &str = "-//Cringle//Advisories//EN";
/// Octets of a line without its end.
const LINE_AT_MOST: usize = 75;
/// How often a calendar may ask again.
const ASK_AGAIN: &str = "PT15M";

/// What stands for a session.
#[derive(Clone, Copy)]
pub struct Standing<'a> {
    /// The advisory.
    pub advisory: &'a Advisory,
    /// Which of the session's issues it is, counted from 1.
    pub revision: i64,
}

/// One session as a calendar. `page` gives the address of a session's page, where one is known.
pub fn event(
    standing: Standing<'_>,
    decisions: &[Decision],
    now: DateTime<Utc>,
    page: &dyn Fn(&str) -> Option<String>,
) -> String {
    let mut calendar = empty();
    calendar.push(event_of(standing, decisions, now, page));
    written(&calendar)
}

/// The sessions of a club as a calendar to subscribe to, in order of leaving.
pub fn feed(
    club: &ClubName,
    standing: &[Standing<'_>],
    decisions: &[Decision],
    now: DateTime<Utc>,
    page: &dyn Fn(&str) -> Option<String>,
) -> String {
    let mut calendar = empty();
    let name = plain(&format!("{}: sessions and their calls", club.name));
    for property in ["NAME", "X-WR-CALNAME"] {
        calendar.append_property((property, name.as_str()));
    }
    let asked_again = icalendar::Property::new("REFRESH-INTERVAL", ASK_AGAIN)
        .add_parameter("VALUE", "DURATION")
        .done();
    calendar.append_property(asked_again);
    let mut ordered = standing.to_vec();
    ordered.sort_by_key(|one| (one.advisory.session.leaves, one.advisory.session.id.clone()));
    for one in ordered {
        calendar.push(event_of(one, decisions, now, page));
    }
    written(&calendar)
}

fn empty() -> Calendar {
    let mut calendar = Calendar::empty();
    calendar
        .append_property(("VERSION", "2.0"))
        .append_property(("PRODID", PRODUCT))
        .append_property(("CALSCALE", "GREGORIAN"));
    calendar
}

/// As text, no line longer than 75 octets (RFC 5545, section 3.1): the last piece of a line that the library folds may be
/// one too long.
fn written(calendar: &Calendar) -> String {
    let mut text = String::new();
    for line in calendar.to_string().split_inclusive("\r\n") {
        let mut end = LINE_AT_MOST.min(line.trim_end().len());
        while !line.is_char_boundary(end) {
            end -= 1;
        }
        let (whole, rest) = line.split_at(end);
        text.push_str(whole);
        if !rest.trim_end().is_empty() {
            text.push_str("\r\n ");
        }
        text.push_str(rest);
    }
    text
}

fn event_of(
    standing: Standing<'_>,
    decisions: &[Decision],
    now: DateTime<Utc>,
    page: &dyn Fn(&str) -> Option<String>,
) -> Event {
    let advisory = standing.advisory;
    let session = &advisory.session;
    let shown = Shown::at(advisory, now).beside(decisions);
    let changed = changed_at(shown);
    let mut event = Event::new();
    event
        .uid(&plain(&format!("{}@{}", session.id, advisory.club.slug)))
        .timestamp(changed)
        .last_modified(changed)
        .sequence(sequence(standing, decisions, shown.old))
        .starts(session.leaves.to_utc())
        .ends(session.alongside.to_utc())
        .status(status(shown))
        .summary(&plain(&summary(shown)))
        .location(&plain(&session.venue.name))
        .description(&plain(&description(shown)));
    if let Some(address) = page(&session.id) {
        event.url(&plain(&address));
    }
    event.done()
}

/// Grows with every issue, with every decision, and once more where the advisory goes old: two steps for each of the first
/// two leave room for the third, so that an issue after an old one is still a step on.
fn sequence(standing: Standing<'_>, decisions: &[Decision], old: bool) -> u32 {
    let of_session = |decision: &&Decision| decision.session == standing.advisory.session.id;
    let decided = decisions.iter().filter(of_session).count();
    let issued = usize::try_from(standing.revision - 1).unwrap_or(0);
    u32::try_from(2 * (issued + decided) + usize::from(old)).unwrap_or(u32::MAX)
}

/// When what is said became so: issued, decided, or gone old.
fn changed_at(shown: Shown<'_>) -> DateTime<Utc> {
    let advisory = shown.advisory;
    let old = shown.old.then(|| advisory.valid_until.to_utc());
    let decided = shown.decision.map(|decision| decision.at);
    let moments = [Some(advisory.issued_at.to_utc()), old, decided];
    moments
        .into_iter()
        .flatten()
        .max()
        .unwrap_or_else(|| advisory.issued_at.to_utc())
}

fn status(shown: Shown<'_>) -> EventStatus {
    match shown.decision.map(|decision| decision.decided) {
        Some(Decided::On) => EventStatus::Confirmed,
        Some(Decided::Off | Decided::Moved) => EventStatus::Cancelled,
        None => EventStatus::Tentative,
    }
}

/// "Off, the club decided: Dunlin, First days. Marginal (issued Sat 17 Oct 06:20)", or the call first where nothing is decided.
fn summary(shown: Shown<'_>) -> String {
    let session = &shown.advisory.session;
    let light = if shown.light() { ", light" } else { "" };
    let issued = day_clock(shown.advisory.issued_at);
    let call = format!("{}{light} (issued {issued})", shown.words());
    let who = format!("{}, {}", session.boat.name, session.level.name);
    match shown.decision.map(|decision| decision.decided) {
        None => format!("{call}: {who}"),
        Some(Decided::On) => format!("On, the club decided: {who}. {call}"),
        Some(Decided::Off) => format!("Off, the club decided: {who}. {call}"),
        Some(Decided::Moved) => format!("Moved, the club decided: {who}. {call}"),
    }
}

fn description(shown: Shown<'_>) -> String {
    let advisory = shown.advisory;
    let decides = decides(shown);
    let mut lines = vec![
        ended(&format!("{} {}", decides.before, decides.in_line())),
        shown.explained(),
    ];
    if !shown.old {
        lines.push(ended(&advisory.wind_words));
        lines.extend(shown.plan_sentence().map(|plan| format!("Leave with {plan}")));
        lines.extend(shown.way_out_sentence());
        let until = day_clock(advisory.valid_until);
        lines.push(format!("Valid until {until}; after that it is old and no call."));
    }
    lines.extend(runs_used(advisory));
    lines.push(ended(&advisory.caution_to_all));
    lines.push(ended(&advisory.warnings));
    lines.retain(|line| !line.is_empty());
    lines.join("\n")
}

/// Without control characters but the line break, which the calendar's text may hold.
fn plain(words: &str) -> String {
    words
        .chars()
        .filter(|letter| !letter.is_control() || *letter == '\n')
        .collect()
}
