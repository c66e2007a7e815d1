//! What a command works on: a club, a catalogue, a store filled from its feeds, and a moment. The demo's, unless told otherwise.

use crate::area::Area;
use crate::commands::check;
use crate::demo_run;
use crate::output::{CommandError, failed};
use chrono::{DateTime, TimeDelta, Utc};
use clap::Args;
use club::{Club, Occurrence, occurrences};
use feeds::Catalogue;
use seaway::LatLon;
use std::path::PathBuf;
use std::sync::Arc;
use store::Store;

/// Where a command's club, feeds and store are. Give none of these for the demo.
#[derive(Args, Debug, Clone, Default)]
pub struct ContextArguments {
    /// Club file (TOML)
    #[arg(long, value_name = "FILE")]
    pub club: Option<PathBuf>,
    /// Folder that holds the feeds' trees (noaa-gfs/, noaa-gefs/), read as file:// addresses
    #[arg(long, value_name = "DIR")]
    pub feeds: Option<PathBuf>,
    /// File of the store; made when it is not there
    #[arg(long, value_name = "FILE")]
    pub store: Option<PathBuf>,
    /// The moment to work at (RFC 3339, with its offset), in place of the clock
    #[arg(long, value_name = "TIME", value_parser = moment)]
    pub now: Option<DateTime<Utc>>,
}

/// A time with its offset, for clap.
pub fn moment(text: &str) -> Result<DateTime<Utc>, String> {
    DateTime::parse_from_rfc3339(text)
        .map(|at| at.with_timezone(&Utc))
        .map_err(|_| format!("{text} is not a time with its offset, such as 2030-05-13T15:00:00Z"))
}

/// What a command works on.
pub struct Context {
    /// The club.
    pub club: Arc<Club>,
    /// The text of its file.
    pub club_text: String,
    /// The catalogue of feeds.
    pub catalogue: Arc<Catalogue>,
    /// The store.
    pub store: Store,
    /// Where the feeds' trees lie, if there are any to fetch.
    pub feeds: Option<PathBuf>,
    /// The moment.
    pub now: DateTime<Utc>,
    /// What the demo says of itself; none when this is not the demo.
    pub banner: Option<String>,
}

impl Context {
    /// Reads the club and opens the store. Nothing is fetched yet.
    pub async fn open(arguments: &ContextArguments) -> Result<Self, CommandError> {
        let is_demo = arguments.club.is_none() && arguments.feeds.is_none();
        let now = arguments
            .now
            .unwrap_or_else(|| if is_demo { demo_run::clock() } else { Utc::now() });
        let (club_text, club) = read_club(arguments, now).await?;
        let folder = demo_run::folder();
        let feeds = match (&arguments.feeds, &arguments.club) {
            (Some(feeds), _) => Some(feeds.clone()),
            (None, None) => {
                make_folder(&folder)?;
                Some(demo_run::unpack(&folder)?)
            }
            (None, Some(_)) => None,
        };
        let store_path = match &arguments.store {
            Some(store) => store.clone(),
            None if is_demo => folder.join("store.db"),
            None => {
                return Err(CommandError::Wrong(
                    "cringle: give --store FILE together with --club or --feeds".to_owned(),
                ));
            }
        };
        // An address may hold a password: the error of the store names it without.
        let store = Store::open(&store_path.to_string_lossy())
            .await
            .map_err(failed("the store cannot be opened"))?;
        Ok(Self {
            club: Arc::new(club),
            club_text,
            catalogue: Arc::new(Catalogue::embedded().map_err(failed("the catalogue of feeds"))?),
            store,
            feeds,
            now,
            banner: is_demo.then(demo_run::banner),
        })
    }

    /// Pulls what the feeds have and the store has not.
    pub async fn fetch(&self) -> Result<(), CommandError> {
        let Some(feeds) = &self.feeds else { return Ok(()) };
        let places: Vec<LatLon> = self
            .club
            .venues
            .iter()
            .flat_map(|venue| venue.points.iter().map(|point| point.at))
            .collect();
        crate::commands::pull::pull_into(&self.store, &self.catalogue, feeds, places, self.now).await?;
        Ok(())
    }

    /// The sessions that leave within so many days. One that has left keeps the advisory it left with.
    pub fn coming(&self, days: u16) -> Vec<Occurrence> {
        let until = self.now + TimeDelta::days(i64::from(days));
        occurrences(&self.club, self.now, until)
            .into_iter()
            .filter(|session| session.leaves > self.now)
            .collect()
    }
}

fn make_folder(folder: &std::path::Path) -> Result<(), CommandError> {
    std::fs::create_dir_all(folder).map_err(failed(format!("the folder {} cannot be made", folder.display())))
}

/// The club file's name and text, free of mistakes; with feeds at hand its venues lie inside their grid.
async fn read_club(arguments: &ContextArguments, now: DateTime<Utc>) -> Result<(String, Club), CommandError> {
    let Some(path) = &arguments.club else {
        return Ok((demo_run::CLUB.to_owned(), parse_club(demo_run::CLUB)?));
    };
    let area = match &arguments.feeds {
        Some(feeds) => Area::of_feeds(feeds, now).await,
        None => None,
    };
    let bytes = check::read_club(path)
        .await
        .map_err(|checked| CommandError::Wrong(checked.mistakes))?;
    let checked = check::check_within(&path.display().to_string(), &bytes, area.as_ref());
    if checked.exit_code != 0 {
        return Err(CommandError::Wrong(checked.mistakes));
    }
    let text = String::from_utf8_lossy(&bytes).into_owned();
    let club = parse_club(&text)?;
    Ok((text, club))
}

fn parse_club(text: &str) -> Result<Club, CommandError> {
    let parsed = club::parse(text).map_err(|mistakes| CommandError::Wrong(format!("{mistakes:?}")))?;
    Ok(parsed.club)
}
