//! `cringle suppose`: what the rules would say of given hours.
//!
//! Owns: the arguments, reading the two files within their bounds. Must not know: what a cell may say, what the rules are.

use crate::commands::check;
use crate::commands::windows::wrong_key;
use crate::output::{CommandError, failed, print};
use crate::supposed::judged::{Question, judge};
use crate::supposed::words::in_words;
use crate::supposed::{Supposed, read};
use advisor::pick;
use chrono::{DateTime, TimeDelta, Utc};
use clap::Args;
use club::Club;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use tokio::io::AsyncReadExt;

/// Longest outing that is supposed at once.
const LONGEST: TimeDelta = TimeDelta::hours(24);

/// Say what the rules would say of given hours.
#[derive(Args, Debug)]
pub struct SupposeArguments {
    /// Club file (TOML)
    #[arg(long, value_name = "FILE")]
    pub club: PathBuf,
    /// Boat, by its key in the club file
    #[arg(long)]
    pub boat: String,
    /// Level, by its key
    #[arg(long)]
    pub level: String,
    /// Venue, by its key; the first venue without it
    #[arg(long)]
    pub venue: Option<String>,
    /// Leaving the berth (RFC 3339, with its offset); the first row without it
    #[arg(long, value_name = "TIME", value_parser = crate::context::moment)]
    pub leave: Option<DateTime<Utc>>,
    /// Back alongside; the last row without it
    #[arg(long = "return", value_name = "TIME", value_parser = crate::context::moment)]
    pub alongside: Option<DateTime<Utc>>,
    /// The hours (CSV): time, and any of member, mean_kn, from_deg, gust_kn, gust_over_h, wave_m, wave_period_s, wave_from_deg, air_c,
    /// dew_c, land_c, visibility_m, rain_mm_h, cape_j_kg, sea_c, stream_kn, stream_to_deg; an empty cell is a missing value
    #[arg(long, value_name = "FILE")]
    pub conditions: PathBuf,
    /// Print JSON
    #[arg(long)]
    pub json: bool,
}

/// Reads, asks and prints; no clock, no store and no source is looked at.
pub async fn run(arguments: SupposeArguments) -> Result<ExitCode, CommandError> {
    let club = read_club(&arguments.club).await?;
    let supposed = read_hours(&arguments.conditions).await?;
    let (leaves, alongside) = span(&arguments, &supposed)?;
    let question = Question {
        club: &club,
        venue: pick("venue", &club.venues, |one| &one.id, arguments.venue.as_deref()).map_err(wrong_key)?,
        boat: pick("boat", &club.boats, |one| &one.id, Some(&arguments.boat)).map_err(wrong_key)?,
        level: pick("level", &club.levels, |one| &one.id, Some(&arguments.level)).map_err(wrong_key)?,
        leaves,
        alongside,
        supposed: &supposed,
    };
    let answer = judge(&question);
    if arguments.json {
        let text =
            serde_json::to_string_pretty(&answer).map_err(failed("the answer cannot be written as JSON"))?;
        print(&format!("{text}\n"));
    } else {
        print(&in_words(&question, &answer));
    }
    Ok(ExitCode::SUCCESS)
}

async fn read_club(path: &Path) -> Result<Club, CommandError> {
    let octets = check::read_club(path)
        .await
        .map_err(|checked| CommandError::Wrong(checked.mistakes))?;
    let checked = check::check_bytes(&path.display().to_string(), &octets, None);
    match club::parse_bytes(&octets, None) {
        Ok(parsed) => Ok(parsed.club),
        Err(_) => Err(CommandError::Wrong(checked.mistakes)),
    }
}

/// The file's octets, but never more than one past the largest: that one is enough to refuse it.
async fn read_hours(path: &Path) -> Result<Supposed, CommandError> {
    let name = path.display().to_string();
    let unreadable = |error: std::io::Error| {
        CommandError::Wrong(format!(
            "{name}: cannot be read ({error}): name a CSV file that can with --conditions"
        ))
    };
    let mut octets = Vec::new();
    let file = tokio::fs::File::open(path).await.map_err(unreadable)?;
    file.take(read::FILE_AT_MOST as u64 + 1)
        .read_to_end(&mut octets)
        .await
        .map_err(unreadable)?;
    read::read(&name, &octets).map_err(|mistakes| CommandError::Wrong(mistakes.to_string()))
}

fn span(
    arguments: &SupposeArguments,
    supposed: &Supposed,
) -> Result<(DateTime<Utc>, DateTime<Utc>), CommandError> {
    let wrong = |words: &str| Err(CommandError::Wrong(format!("cringle: {words}")));
    let times = supposed.times();
    let leaves = arguments.leave.or_else(|| times.first().copied());
    let alongside = arguments.alongside.or_else(|| times.last().copied());
    let (Some(leaves), Some(alongside)) = (leaves, alongside) else {
        return wrong("the conditions have no row: give one for each hour");
    };
    if alongside < leaves {
        return wrong("the return lies before leaving: give --leave and --return, the later one last");
    }
    if alongside - leaves > LONGEST {
        return wrong("more than 24 hours lie between leaving and return: give --leave and --return");
    }
    Ok((leaves, alongside))
}
