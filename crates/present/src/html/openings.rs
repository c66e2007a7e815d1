//! The words of the openings page: what was asked, and by day the stretches that are good enough.

use super::foot::{Foot, foot_without_advisory};
use super::form::Field;
use super::nav::{NavLink, nav};
use crate::marks::call_mark;
use crate::sail_glyph::sail_glyph;
use crate::wording::{clock, ended, run_time};
use advisory::openings::DayLookedAt;
use advisory::words::{duration, per_cent};
use advisory::{Opening, OpeningQuery};
use askama::Template;
use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use club::Club;

/// What was asked, as the form holds it.
#[derive(Clone, Debug)]
pub struct OpeningsAsked<'a> {
    /// Whose page it is.
    pub club: &'a Club,
    /// Key of the venue.
    pub venue: String,
    /// Key of the boat.
    pub boat: String,
    /// Key of the level.
    pub level: String,
    /// Shortest stretch in hours, as written.
    pub length: String,
    /// Marginal hours are good enough too.
    pub marginal_too: bool,
    /// First day, as written; empty: today.
    pub from: String,
    /// Last day, as written; empty: a week in all.
    pub to: String,
    /// The first and the last day that can be asked for.
    pub days: (NaiveDate, NaiveDate),
}

/// What was found.
#[derive(Clone, Debug)]
pub struct OpeningsFound<'a> {
    /// What was looked for.
    pub query: OpeningQuery<'a>,
    /// First and last day shown.
    pub days: (NaiveDate, NaiveDate),
    /// In order of time.
    pub openings: Vec<Opening>,
    /// The days looked at.
    pub looked_at: &'a [DayLookedAt],
    /// Why nothing can be said at all; none where a run was at hand.
    pub no_data: Option<&'a str>,
    /// The sentences that the licences of the sources ask for.
    pub attributions: Vec<String>,
}

/// The page.
#[derive(Template)]
#[template(path = "openings.html")]
pub(super) struct OpeningsPage<'a> {
    club: &'a str,
    demo: Option<&'a str>,
    nav: Vec<NavLink>,
    looked_for: Option<String>,
    wrong: Option<String>,
    choices: [Field; 4],
    length: Field,
    days_asked: [Field; 2],
    first_day: NaiveDate,
    last_day: NaiveDate,
    no_data: Option<&'a str>,
    days: Vec<Day>,
    foot: Foot,
}

/// A day of the almanac.
struct Day {
    number: String,
    weekday: String,
    month: String,
    stretches: Vec<Stretch>,
    instead: Option<String>,
    run: Option<String>,
}

/// One opening.
struct Stretch {
    mark: String,
    times: String,
    call: &'static str,
    lasts: String,
    glyph: Option<String>,
    plan: String,
    note: Option<String>,
    holds: String,
}

/// Fills the page.
pub(super) fn page<'a>(
    asked: &OpeningsAsked<'a>,
    found: Result<&OpeningsFound<'a>, (&str, &str)>,
    demo: Option<&'a str>,
) -> OpeningsPage<'a> {
    let wrong = found.err();
    let found = found.ok();
    let runs = found.map(runs_of).unwrap_or_default();
    let told = found.filter(|found| found.no_data.is_none());
    OpeningsPage {
        club: &asked.club.name,
        demo,
        nav: nav("/openings"),
        looked_for: found.map(looked_for),
        wrong: wrong.map(|(field, words)| in_short(field, words)),
        choices: choices(asked, wrong),
        length: Field::written("length", "For at least, hours", &asked.length).but(wrong),
        days_asked: [
            Field::written("from", "From", &asked.from).but(wrong),
            Field::written("to", "To", &asked.to).but(wrong),
        ],
        first_day: asked.days.0,
        last_day: asked.days.1,
        no_data: found.and_then(|found| found.no_data),
        days: told.map(|found| days(found, runs.len() > 1)).unwrap_or_default(),
        foot: foot_without_advisory(asked.club, foot_lines(&runs, found)),
    }
}

/// That there is a mistake; what it is stands at its field, if the form has it.
fn in_short(field: &str, words: &str) -> String {
    const FIELDS: [&str; 7] = ["boat", "level", "venue", "call", "length", "from", "to"];
    if FIELDS.contains(&field) {
        "This cannot be looked for: one field below says why.".to_owned()
    } else {
        ended(&format!("This cannot be looked for. {field}: {words}"))
    }
}

fn choices(asked: &OpeningsAsked<'_>, wrong: Option<(&str, &str)>) -> [Field; 4] {
    let club = asked.club;
    let boats = club.boats.iter().map(|one| (one.id.as_str(), one.name.as_str()));
    let levels = club.levels.iter().map(|one| (one.id.as_str(), one.name.as_str()));
    let venues = club.venues.iter().map(|one| (one.id.as_str(), one.name.as_str()));
    let calls = [("go", "go"), ("marginal", "go or marginal")];
    let call = if asked.marginal_too { "marginal" } else { "go" };
    [
        Field::choice(("boat", "Boat"), &asked.boat, boats).but(wrong),
        Field::choice(("level", "Level"), &asked.level, levels).but(wrong),
        Field::choice(("venue", "Venue"), &asked.venue, venues).but(wrong),
        Field::choice(("call", "Every hour is"), call, calls.into_iter()).but(wrong),
    ]
}

fn looked_for(found: &OpeningsFound<'_>) -> String {
    let query = &found.query;
    let good = if query.marginal_too {
        "go or marginal"
    } else {
        "go"
    };
    format!(
        "{}, {}, {}: at least {} with every hour {good}, in daylight and the club’s hours, {} to {}.",
        query.boat.name,
        query.level.name,
        query.venue.name,
        length_words(query.at_least),
        day_words(found.days.0),
        day_words(found.days.1),
    )
}

fn day_words(day: NaiveDate) -> String {
    day.format("%a %-d %b").to_string()
}

fn length_words(length: TimeDelta) -> String {
    duration(length.num_minutes() as f64)
}

/// Every day asked for: what was found, or why there is nothing.
fn days(found: &OpeningsFound<'_>, runs_differ: bool) -> Vec<Day> {
    let (from, to) = found.days;
    let day = |date: NaiveDate| {
        let looked_at = found.looked_at.iter().find(|day| day.date == date);
        let of_day = |opening: &&Opening| opening.from.date_naive() == date;
        let stretches: Vec<Stretch> = found.openings.iter().filter(of_day).map(stretch).collect();
        let run = looked_at.and_then(|day| day.by.as_ref());
        Day {
            number: date.format("%-d").to_string(),
            weekday: date.format("%A").to_string(),
            month: date.format("%B").to_string(),
            instead: stretches.is_empty().then(|| instead(found, looked_at)),
            stretches,
            run: run.filter(|_| runs_differ).map(|run| ended(&by(run))),
        }
    };
    from.iter_days().take_while(|date| *date <= to).map(day).collect()
}

/// Why a day has no opening.
fn instead(found: &OpeningsFound<'_>, looked_at: Option<&DayLookedAt>) -> String {
    match looked_at {
        None => "No daylight is left in the club’s hours.".to_owned(),
        Some(DayLookedAt { by: None, .. }) => {
            "Nothing can be said: no run that is not too old tells the wind of this day.".to_owned()
        }
        Some(_) => format!("None of {} or more.", length_words(found.query.at_least)),
    }
}

fn stretch(opening: &Opening) -> Stretch {
    let sail = opening.leave_with.as_ref();
    Stretch {
        mark: call_mark(opening.call),
        times: format!("{} to {}", clock(opening.from), clock(opening.to)),
        call: opening.call.words(),
        lasts: length_words(opening.to - opening.from),
        glyph: sail.map(|sail| sail_glyph(sail, "")),
        plan: sail.map_or("Past her reef table at first".to_owned(), |sail| {
            sail.words.clone()
        }),
        note: sail.and_then(|sail| sail.note.as_deref()).map(ended),
        holds: opening.holds.map_or_else(
            || "One run alone: how sure it is, is not known.".to_owned(),
            |share| format!("{} of members hold throughout.", per_cent(share)),
        ),
    }
}

fn by((source, run): &(String, DateTime<Utc>)) -> String {
    format!("{source}, run of {}", run_time(*run))
}

/// The runs that the days shown were looked at by, each once.
fn runs_of<'a>(found: &OpeningsFound<'a>) -> Vec<&'a (String, DateTime<Utc>)> {
    let (from, to) = found.days;
    let shown = found
        .looked_at
        .iter()
        .filter(|day| (from..=to).contains(&day.date));
    let mut runs: Vec<&(String, DateTime<Utc>)> = Vec::new();
    for run in shown.filter_map(|day| day.by.as_ref()) {
        if !runs.contains(&run) {
            runs.push(run);
        }
    }
    runs
}

fn foot_lines(runs: &[&(String, DateTime<Utc>)], found: Option<&OpeningsFound<'_>>) -> Vec<String> {
    let named: Vec<String> = runs.iter().map(|run| by(run)).collect();
    let wind = (!named.is_empty()).then(|| format!("Wind from {}.", named.join("; ")));
    let attributions = found.iter().flat_map(|found| &found.attributions);
    let nothing = "Nothing was issued, and nothing here has a time until which it is valid: look again before it is planned by. \
        Times are the club’s.";
    wind.into_iter()
        .chain(attributions.map(|words| ended(words)))
        .chain([nothing.to_owned()])
        .collect()
}
