//! `cringle windows`: the openings of the coming days for a boat and a level.

use crate::commands::advise::with_banner;
use crate::context::{Context, ContextArguments, Surroundings, Use};
use crate::output::{CommandError, failed, print};
use advisor::{NoSuchKey, WindowChoice};
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

/// Fetches, looks and prints; nothing is issued.
pub async fn run(around: &Surroundings, arguments: WindowsArguments) -> Result<ExitCode, CommandError> {
    let context = Context::open(around, &arguments.context, Use::Reads).await?;
    context.fetch_first().await?;
    let club = context.club.clone();
    let choice = WindowChoice {
        session: arguments.session,
        venue: arguments.venue,
        boat: arguments.boat,
        level: arguments.level,
        at_least: arguments.hours.map(|hours| TimeDelta::hours(i64::from(hours))),
        marginal_too: arguments.call == Wanted::Marginal,
        days: arguments.days,
    };
    let query = choice.of(&club).map_err(wrong_key)?;
    let found = advisor::windows(
        &context.store,
        &context.catalogue,
        &club,
        choice.clone(),
        context.now,
    )
    .await
    .map_err(failed("the openings cannot be found"))?;
    let openings = found.openings;
    if arguments.json {
        let text = serde_json::to_string_pretty(&openings)
            .map_err(failed("the openings cannot be written as JSON"))?;
        print(&format!("{text}\n"));
    } else {
        print(&folded(&with_banner(&context, in_words(&query, &openings))));
    }
    Ok(ExitCode::SUCCESS)
}

/// A key that the club file does not have.
pub fn wrong_key(error: NoSuchKey) -> CommandError {
    CommandError::Wrong(format!("cringle: {error}"))
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
