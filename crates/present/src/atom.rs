//! The advisories of a club as they were issued, as an Atom feed (RFC 4287).
//!
//! Owns: what an entry says. Must not know: how a feed is asked for. An entry is a record: its title says when it was issued
//! and until when it held, since feeds are kept and read much later. Nothing in it changes afterwards, so its name and its
//! bytes stay.

use crate::PresentError;
use crate::credit::{attributions, runs_used};
use crate::shown::Shown;
use crate::svg::escaped;
use crate::wording::{clock_from, day_clock, ended, session_line};
use advisory::document::{Advisory, CallWord, ClubName};
use askama::Template;
use chrono::{DateTime, Utc};

/// One issue, with the name that the feed gives it for good.
#[derive(Clone, Copy)]
pub struct Issued<'a> {
    /// Its name: an IRI that no other issue ever has.
    pub name: &'a str,
    /// The document.
    pub advisory: &'a Advisory,
}

/// Where a reader finds what the feed speaks of.
#[derive(Clone, Copy)]
pub struct Addresses<'a> {
    /// The feed itself.
    pub own: Option<&'a str>,
    /// The club's board.
    pub board: Option<&'a str>,
    /// The page of a session.
    pub page: &'a dyn Fn(&str) -> Option<String>,
}

/// The feed.
#[derive(Template)]
#[template(path = "feed.xml")]
struct Feed {
    id: String,
    title: String,
    subtitle: String,
    updated: String,
    author: String,
    rights: Option<String>,
    own: Option<String>,
    board: Option<String>,
    entries: Vec<Entry>,
}

struct Entry {
    id: String,
    title: String,
    issued: String,
    page: Option<String>,
    term: &'static str,
    label: &'static str,
    summary: String,
    /// HTML, its words escaped; the template escapes it once more, as the standard wants it.
    content: String,
}

/// The issues, in the order they are given: the newest first. `name` is the feed's own, for good.
///
/// # Errors
/// [`PresentError::Page`] if the template cannot be filled.
pub fn feed(
    club: &ClubName,
    name: &str,
    issues: &[Issued<'_>],
    addresses: Addresses<'_>,
) -> Result<String, PresentError> {
    let newest = issues.iter().map(|issue| issue.advisory.issued_at).max();
    let feed = Feed {
        id: plain(name),
        title: plain(&format!("{}: advisories as they were issued", club.name)),
        subtitle:
            "Each entry is a record of what was said then. The call that stands is on the club’s board; \
            the skipper decides."
                .to_owned(),
        // A feed must say when it changed last; one without an issue never has.
        updated: newest.map_or_else(|| DateTime::<Utc>::UNIX_EPOCH.to_rfc3339(), |at| at.to_rfc3339()),
        author: plain(&club.name),
        rights: rights(issues),
        own: addresses.own.map(plain),
        board: addresses.board.map(plain),
        entries: issues.iter().map(|issue| entry(*issue, addresses)).collect(),
    };
    feed.render()
        .map_err(|source| PresentError::Page { page: "feed", source })
}

fn entry(issue: Issued<'_>, addresses: Addresses<'_>) -> Entry {
    let advisory = issue.advisory;
    // As it was when it was issued: a record is not old.
    let shown = Shown::at(advisory, advisory.issued_at.to_utc());
    let session = &advisory.session;
    let light = if shown.light() { ", light" } else { "" };
    let issued = day_clock(advisory.issued_at);
    let until = clock_from(advisory.valid_until, advisory.issued_at);
    let title = format!(
        "{}, {}: {}{light} (issued {issued}, valid until {until})",
        session_line(session),
        day_clock(session.leaves),
        shown.words()
    );
    let lines = lines(shown);
    let content = lines
        .iter()
        .map(|line| format!("<p>{}</p>", escaped(&plain(line))))
        .collect();
    Entry {
        id: plain(issue.name),
        title: plain(&title),
        issued: advisory.issued_at.to_rfc3339(),
        page: (addresses.page)(&session.id).map(|address| plain(&address)),
        term: term(advisory.call),
        label: advisory.call.words(),
        summary: plain(&shown.explained()),
        content,
    }
}

/// As the JSON of an advisory has it.
fn term(call: CallWord) -> &'static str {
    match call {
        CallWord::Go => "go",
        CallWord::Marginal => "marginal",
        CallWord::NoGo => "no-go",
        CallWord::NoCall => "no-call",
    }
}

fn lines(shown: Shown<'_>) -> Vec<String> {
    let advisory = shown.advisory;
    let explained = shown.explained();
    let reasons = advisory.reasons.iter().map(|reason| ended(&reason.words));
    // The explanation of a call is often its first reason.
    let reasons = reasons.filter(|words| *words != explained).collect::<Vec<_>>();
    let mut lines = vec![explained, ended(&advisory.wind_words)];
    lines.extend(shown.plan_sentence().map(|plan| format!("Leave with {plan}")));
    lines.extend(shown.way_out_sentence());
    lines.extend(reasons);
    lines.extend(advisory.cautions.iter().map(|caution| {
        let title = format!("{} ({})", caution.title, caution.when);
        ended(&format!(
            "{title}: {}",
            caution.words.trim_start_matches([',', ' '])
        ))
    }));
    lines.push(ended(&advisory.sureness.words));
    lines.extend(runs_used(advisory));
    let until = day_clock(advisory.valid_until);
    lines.push(format!("Valid until {until}; after that it is old and no call."));
    lines.push(ended(&advisory.caution_to_all));
    lines.push(ended(&advisory.warnings));
    lines.retain(|line| !line.is_empty());
    lines
}

/// What the producers of the forecasts ask to be said.
fn rights(issues: &[Issued<'_>]) -> Option<String> {
    let advisories: Vec<&Advisory> = issues.iter().map(|issue| issue.advisory).collect();
    let said = attributions(&advisories);
    (!said.is_empty()).then(|| plain(&said.join(" ")))
}

/// Without what XML 1.0 cannot hold at all (section 2.2 there).
fn plain(words: &str) -> String {
    words
        .chars()
        .filter(|letter| !letter.is_control() && !matches!(letter, '\u{fffe}' | '\u{ffff}'))
        .collect()
}
