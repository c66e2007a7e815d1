//! `cringle windows`: the openings of the coming days for a boat and a level.

use crate::commands::advise::with_banner;
use crate::context::{Context, ContextArguments, Surroundings, Use};
use crate::output::{CommandError, failed, print};
use advisory::{Opening, OpeningQuery};
use chrono::TimeDelta;
use clap::{Args, ValueEnum};
use present::terminal::folded;
use std::fmt::Write;
use std::process::ExitCode;

/// How good every hour must be.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Wanted {
    /// Go.
    Go,
    /// Go or marginal.
    Marginal,
}

/// List the stretches of the coming days that are good enough for a boat and a level.
#[derive(Args, Debug)]
pub struct WindowsArguments {
    /// Session, by its key in the club file: its venue, boat, level and length are looked for
    #[arg(long)]
    pub session: Option<String>,
    /// Boat, by its key in the club file; the session's or the first without it
    #[arg(long)]
    pub boat: Option<String>,
    /// Level, by its key; the session's or the first without it
    #[arg(long)]
    pub level: Option<String>,
    /// Venue, by its key; the session's or the first without it
    #[arg(long)]
    pub venue: Option<String>,
    /// Shortest stretch, hours; the session's length or 3 without it
    #[arg(long, value_parser = clap::value_parser!(u16).range(1..=24))]
    pub hours: Option<u16>,
    /// How good every hour must be
    #[arg(long, value_enum, default_value_t = Wanted::Go)]
    pub call: Wanted,
    /// Days ahead
    #[arg(long, default_value_t = 7, value_parser = clap::value_parser!(u16).range(1..=16))]
    pub days: u16,
    /// Print JSON
    #[arg(long)]
    pub json: bool,
    #[command(flatten)]
    pub context: ContextArguments,
}

/// Shortest stretch where nobody says (no source: common practice).
const USUAL_LENGTH: TimeDelta = TimeDelta::hours(3);

/// Fetches, looks and prints; nothing is issued.
pub async fn run(around: &Surroundings, arguments: WindowsArguments) -> Result<ExitCode, CommandError> {
    let context = Context::open(around, &arguments.context, Use::Reads).await?;
    context.fetch_first().await?;
    let club = context.club.clone();
    let session = match arguments.session.as_deref() {
        None => None,
        wanted => Some(pick("session", &club.sessions, |session| &session.id, wanted)?),
    };
    let or = |wanted: &Option<String>, of_session: Option<&String>| wanted.as_ref().or(of_session).cloned();
    let venue = or(
        &arguments.venue,
        session.map(|session| &club.venues[session.venue].id),
    );
    let boat = or(
        &arguments.boat,
        session.map(|session| &club.boats[session.boat].id),
    );
    let level = or(
        &arguments.level,
        session.map(|session| &club.levels[session.level].id),
    );
    let query = OpeningQuery {
        venue: pick("venue", &club.venues, |venue| &venue.id, venue.as_deref())?,
        boat: pick("boat", &club.boats, |boat| &boat.id, boat.as_deref())?,
        level: pick("level", &club.levels, |level| &level.id, level.as_deref())?,
        marginal_too: arguments.call == Wanted::Marginal,
        at_least: match (arguments.hours, session) {
            (Some(hours), _) => TimeDelta::hours(i64::from(hours)),
            (None, Some(session)) => session.lasts,
            (None, None) => USUAL_LENGTH,
        },
        days: arguments.days,
    };
    let openings = advisor::openings(&context.store, &context.catalogue, &club, query, context.now)
        .await
        .map_err(failed("the openings cannot be found"))?;
    if arguments.json {
        let text = serde_json::to_string_pretty(&openings)
            .map_err(failed("the openings cannot be written as JSON"))?;
        print(&format!("{text}\n"));
    } else {
        print(&folded(&with_banner(&context, in_words(&query, &openings))));
    }
    Ok(ExitCode::SUCCESS)
}

/// One of the club's, by its key; the first without one.
pub fn pick<'a, T>(
    what: &str,
    of: &'a [T],
    id: impl Fn(&T) -> &String,
    wanted: Option<&str>,
) -> Result<&'a T, CommandError> {
    let found = match wanted {
        None => of.first(),
        Some(wanted) => of.iter().find(|one| id(one) == wanted),
    };
    found.ok_or_else(|| {
        let known: Vec<&str> = of.iter().map(|one| id(one).as_str()).collect();
        let wanted = wanted.unwrap_or("(the first)");
        CommandError::Wrong(format!(
            "cringle: the club has no {what} {wanted}; it has {}",
            known.join(", ")
        ))
    })
}

fn in_words(query: &OpeningQuery<'_>, openings: &[Opening]) -> String {
    let mut text = format!(
        "Openings for {}, {}, {}: at least {}, {}\n\n",
        query.boat.name,
        query.level.name,
        query.venue.name,
        length_words(query.at_least),
        if query.marginal_too {
            "go or marginal"
        } else {
            "go"
        }
    );
    if openings.is_empty() {
        text += "None in the days the forecast reaches.\n";
    }
    for opening in openings {
        text += &opening_lines(opening);
    }
    let run = openings
        .first()
        .and_then(|opening| Some((opening.source.clone(), opening.run?)));
    if let Some((source, run)) = run {
        let _ = writeln!(
            text,
            "\nWind from {source}, run of {}.",
            run.format("%-d %b %H:%M UTC")
        );
    }
    text += &format!(
        "\nNothing is issued by looking.\n{}\n",
        advisory::make::CAUTION_TO_ALL
    );
    text
}

/// "3 h", "2 h 45 min".
fn length_words(length: TimeDelta) -> String {
    match (length.num_hours(), length.num_minutes() % 60) {
        (hours, 0) => format!("{hours} h"),
        (hours, minutes) => format!("{hours} h {minutes} min"),
    }
}

/// One opening in two lines.
pub fn opening_lines(opening: &Opening) -> String {
    let sail = opening
        .leave_with
        .as_ref()
        .map_or("past the table", |sail| sail.words.as_str());
    let holds = opening.holds.map_or_else(
        || "one run alone".to_owned(),
        |share| format!("{:.0} % of members hold throughout", share * 100.0),
    );
    format!(
        "{}  {} to {}  {}\n            leave with {sail}; {holds}\n",
        opening.from.format("%a %-d %b"),
        opening.from.format("%H:%M"),
        opening.to.format("%H:%M"),
        opening.call.words()
    )
}
