//! `cringle conditions`: what is kept for a venue, hour by hour and quantity by quantity, or why it is missing.

use crate::commands::advise::{style, with_banner};
use crate::context::{Context, ContextArguments, Surroundings, Use};
use crate::kept;
use crate::output::{CommandError, failed, print};
use advisor::{KeptPoint, KeptValue};
use chrono::{DateTime, SecondsFormat, TimeDelta, Utc};
use clap::Args;
use club::Venue;
use feeds::Feed;
use present::terminal;
use serde::Serialize;
use std::process::ExitCode;

/// Print what is kept for a venue: the values of each source's newest run at the venue's points, interpolated as advisories do it and
/// in the units of the forecast, or why a value is missing.
#[derive(Args, Debug)]
pub struct ConditionsArguments {
    /// Venue, by its key in the club file
    #[arg(long)]
    pub venue: String,
    /// Source, by its name in the catalogue; every enabled one without it
    #[arg(long)]
    pub source: Option<String>,
    /// Hours ahead that the tables show; JSON has every hour of the run
    #[arg(long, default_value_t = 48, value_parser = clap::value_parser!(u16).range(1..=400))]
    pub hours: u16,
    /// Print JSON Lines, one value a line: source, run, member, point, valid_time, parameter, value or why it is missing, unit
    #[arg(long)]
    pub json: bool,
    #[command(flatten)]
    pub context: ContextArguments,
}

/// One line of JSON.
#[derive(Serialize)]
struct Line<'a> {
    source: &'a str,
    run: String,
    member: u16,
    point: &'a str,
    valid_time: String,
    parameter: &'static str,
    value: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    missing: Option<&'static str>,
    unit: &'static str,
}

/// Reads and prints. Only the demo is fetched first: elsewhere the store is shown as it is.
pub async fn run(around: &Surroundings, arguments: ConditionsArguments) -> Result<ExitCode, CommandError> {
    let context = Context::open(around, &arguments.context, Use::Reads).await?;
    let venue = venue(&context, &arguments.venue)?.clone();
    let feeds = sources(&context, arguments.source.as_deref())?;
    if context.banner.is_some() {
        context.fetch_first().await?;
    }
    let mut tables = Vec::new();
    for feed in feeds {
        for point in 0..venue.points.len() {
            let kept = advisor::at_point(
                &context.store,
                &context.catalogue,
                &feed,
                &venue,
                point,
                context.now,
            )
            .await
            .map_err(failed("what is kept cannot be read"))?;
            let Some(kept) = kept else { continue };
            if arguments.json {
                print(&lines(&kept)?);
            } else {
                let from = context.now - TimeDelta::hours(1);
                tables.push(kept::table(
                    &kept,
                    (from, context.now + TimeDelta::hours(i64::from(arguments.hours))),
                ));
            }
        }
    }
    if !arguments.json {
        let text = terminal::kept(&venue.name, &tables, style());
        print(&with_banner(&context, text));
    }
    Ok(ExitCode::SUCCESS)
}

fn venue<'a>(context: &'a Context, wanted: &str) -> Result<&'a Venue, CommandError> {
    let venues = &context.club.venues;
    venues.iter().find(|venue| venue.id == wanted).ok_or_else(|| {
        let known: Vec<&str> = venues.iter().map(|venue| venue.id.as_str()).collect();
        CommandError::Wrong(format!(
            "cringle: the club has no venue {wanted}; it has {}",
            known.join(", ")
        ))
    })
}

fn sources(context: &Context, wanted: Option<&str>) -> Result<Vec<Feed>, CommandError> {
    let enabled = context.sources.iter().map(|(feed, _)| feed);
    let Some(wanted) = wanted else {
        return Ok(enabled.cloned().collect());
    };
    // What is kept of a source that is no longer enabled can still be asked for.
    let known = context.catalogue.feeds();
    match known.iter().find(|feed| feed.name.as_str() == wanted) {
        Some(feed) => Ok(vec![feed.clone()]),
        None => {
            let known: Vec<&str> = known.iter().map(|feed| feed.name.as_str()).collect();
            Err(CommandError::Wrong(format!(
                "cringle: no source is named {wanted}; there are {}",
                known.join(", ")
            )))
        }
    }
}

fn lines(kept: &KeptPoint) -> Result<String, CommandError> {
    let time = |at: DateTime<Utc>| at.to_rfc3339_opts(SecondsFormat::Secs, true);
    let mut text = String::new();
    for KeptValue {
        member,
        valid,
        parameter,
        value,
    } in &kept.values
    {
        let line = Line {
            source: kept.source.as_str(),
            run: time(kept.run),
            member: member.0,
            point: &kept.point,
            valid_time: time(*valid),
            parameter: parameter.name(),
            value: value.ok(),
            missing: value.err().map(|gap| gap.words()),
            unit: parameter.unit(),
        };
        text += &serde_json::to_string(&line).map_err(failed("a value cannot be written as JSON"))?;
        text.push('\n');
    }
    Ok(text)
}
