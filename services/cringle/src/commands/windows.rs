//! `cringle windows`: the openings of the coming days for a boat and a level.

use crate::commands::advise::{style, with_banner};
use crate::context::{Context, ContextArguments, Surroundings, Use};
use crate::output::{CommandError, failed, print};
use advisor::{NoSuchKey, WindowChoice};
use advisory::openings::Found;
use chrono::TimeDelta;
use clap::{Args, ValueEnum};
use forecast::SourceId;
use present::terminal;
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
    let found = Found {
        openings: found.openings,
        days: found.days,
    };
    if arguments.json {
        let text = serde_json::to_string_pretty(&found.openings)
            .map_err(failed("the openings cannot be written as JSON"))?;
        print(&format!("{text}\n"));
    } else {
        let credit = attributions(&context, &found);
        let text = terminal::windows(&club, &query, &found, &credit, style());
        print(&with_banner(&context, text));
    }
    Ok(ExitCode::SUCCESS)
}

/// A key that the club file does not have.
pub fn wrong_key(error: NoSuchKey) -> CommandError {
    CommandError::Wrong(format!("cringle: {error}"))
}

/// What the producers of the runs that were looked at ask to be said, each once.
fn attributions(context: &Context, found: &Found) -> Vec<String> {
    let mut said: Vec<String> = Vec::new();
    for (source, _) in found.days.iter().filter_map(|day| day.by.as_ref()) {
        let feed = context.catalogue.feed(&SourceId::new(source));
        let new = feed
            .map(|feed| &feed.attribution)
            .filter(|words| !said.contains(words));
        said.extend(new.cloned());
    }
    said
}
