//! What a command works on: a club, a catalogue, a store, sources and a moment. The demo's, unless told otherwise.
//!
//! Owns: which of flags, settings and demo each of them is taken from. The one place that reads the environment.

use crate::area::Area;
use crate::commands::{check, pull};
use crate::demo_run;
use crate::output::{CommandError, failed};
use crate::settings::{PREFIX, Settings, StoreAddress};
use crate::sources;
use chrono::{DateTime, TimeDelta, Utc};
use clap::Args;
use club::{Club, Occurrence, Venue, occurrences};
use feeds::Feed;
use feeds::catalogue::Catalogue;
use seaway::LatLon;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use store::Store;
use tokio::io::AsyncReadExt;

/// Largest settings file, octets.
const SETTINGS_AT_MOST: usize = 1 << 20;

/// Where a command's club, feeds and store are. Each wins over the settings. With neither, the demo's are used.
#[derive(Args, Debug, Clone, Default)]
pub struct ContextArguments {
    /// Club file (TOML); wins over `[club] file`
    #[arg(long, value_name = "FILE")]
    pub club: Option<PathBuf>,
    /// Folder that holds the feeds' trees (noaa-gfs/, noaa-gefs/, ecmwf/, dwd/), read as file:// addresses; wins over
    /// the addresses of `[sources]`
    #[arg(long, value_name = "DIR")]
    pub feeds: Option<PathBuf>,
    /// Store: a file, made when it is not there, or a postgres:// address; wins over `[store] url`
    #[arg(long, value_name = "STORE")]
    pub store: Option<String>,
}

/// What the whole program was given beside a command's own arguments.
#[derive(Debug, Default)]
pub struct Surroundings {
    /// The settings file.
    pub config: Option<PathBuf>,
    /// The moment to work at, in place of the clock.
    pub now: Option<DateTime<Utc>>,
    /// The variables of the environment that are settings.
    environment: BTreeMap<String, String>,
}

/// What a command does to the store.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Use {
    /// It reads.
    Reads,
    /// It writes, for this reason.
    Writes(&'static str),
}

/// A time with its offset, for clap.
pub fn moment(text: &str) -> Result<DateTime<Utc>, String> {
    DateTime::parse_from_rfc3339(text)
        .map(|at| at.with_timezone(&Utc))
        .map_err(|_| format!("{text} is not a time with its offset, such as 2030-05-13T15:00:00Z"))
}

impl Surroundings {
    /// With the variables of this process.
    pub fn of_process(config: Option<PathBuf>, now: Option<DateTime<Utc>>) -> Self {
        let environment = std::env::vars_os()
            .map(|(name, value)| {
                (
                    name.to_string_lossy().into_owned(),
                    value.to_string_lossy().into_owned(),
                )
            })
            .filter(|(name, _)| name.starts_with(PREFIX))
            .collect();
        Self {
            config,
            now,
            environment,
        }
    }

    /// The settings; none if there is neither a file nor a variable.
    pub async fn settings(&self) -> Result<Option<Settings>, CommandError> {
        if self.config.is_none() && self.environment.values().all(String::is_empty) {
            return Ok(None);
        }
        let text = match &self.config {
            Some(path) => Some((path.display().to_string(), read_text(path).await?)),
            None => None,
        };
        let file = text.as_ref().map(|(name, text)| (name.as_str(), text.as_str()));
        Settings::read(file, &self.environment)
            .map(Some)
            .map_err(|mistakes| CommandError::Wrong(mistakes.to_string()))
    }
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
    /// The enabled sources with the address of each one's tree.
    pub sources: Vec<(Feed, String)>,
    /// The moment.
    pub now: DateTime<Utc>,
    /// What the demo says of itself; none when this is not the demo.
    pub banner: Option<String>,
    /// The operator's settings, or their defaults.
    pub settings: Settings,
    /// Whether commands that advise look for new runs first: with a folder of feeds, not with a store that others fill.
    fetches_first: bool,
}

impl Context {
    /// Reads settings and club and opens the store. Nothing is fetched yet.
    pub async fn open(
        around: &Surroundings,
        arguments: &ContextArguments,
        of_store: Use,
    ) -> Result<Self, CommandError> {
        let settings = around.settings().await?;
        if settings.is_none() && arguments.club.is_none() && arguments.feeds.is_none() {
            return Self::demo(around.now, arguments.store.as_deref()).await;
        }
        let is_set = settings.is_some();
        let settings = settings.map_or_else(defaults, Ok)?;
        let now = around.now.unwrap_or_else(Utc::now);
        let address = store_address(arguments.store.as_deref(), &settings)?;
        leave_the_record(around, arguments.store.as_deref(), of_store)?;
        let club_file = arguments.club.as_ref().or(settings.club.as_ref());
        if club_file.is_none() && is_set {
            return Err(CommandError::Wrong(
                "cringle: which club? Set [club] file (CRINGLE__CLUB__FILE) or give --club FILE".to_owned(),
            ));
        }
        let (club_text, club) = read_club(club_file, arguments.feeds.as_deref(), now).await?;
        sources::all_are_known(&settings, &club)?;
        let sources = match &arguments.feeds {
            Some(folder) => sources::of_folder(&settings, &club, folder),
            None => sources::of_settings(&settings, &club),
        };
        Ok(Self {
            club: Arc::new(club),
            club_text,
            catalogue: Arc::new(settings.catalogue.clone()),
            store: open_store(&address).await?,
            sources,
            now,
            banner: None,
            settings,
            fetches_first: arguments.feeds.is_some(),
        })
    }

    /// The demo, whatever the settings say but for how clients are dealt with.
    pub async fn of_demo(around: &Surroundings, now: Option<DateTime<Utc>>) -> Result<Self, CommandError> {
        let mut demo = Self::demo(now, None).await?;
        if let Some(set) = around.settings().await? {
            demo.settings.serving = set.serving;
        }
        Ok(demo)
    }

    async fn demo(now: Option<DateTime<Utc>>, store: Option<&str>) -> Result<Self, CommandError> {
        let settings = defaults()?;
        let folder = demo_run::folder();
        std::fs::create_dir_all(&folder)
            .map_err(failed(format!("the folder {} cannot be made", folder.display())))?;
        let club = parse_club(demo_run::CLUB)?;
        let sources = sources::of_folder(&settings, &club, &demo_run::unpack(&folder)?);
        let address = store.map_or_else(
            || StoreAddress::new(folder.join("store.db").to_string_lossy()),
            StoreAddress::new,
        );
        Ok(Self {
            club: Arc::new(club),
            club_text: demo_run::CLUB.to_owned(),
            catalogue: Arc::new(settings.catalogue.clone()),
            store: open_store(&address).await?,
            sources,
            now: now.unwrap_or_else(demo_run::clock),
            banner: Some(demo_run::banner()),
            settings,
            fetches_first: true,
        })
    }

    /// Pulls what a folder of feeds has and the store has not. Otherwise the store is read as `fetch` and `serve` fill it.
    pub async fn fetch_first(&self) -> Result<(), CommandError> {
        if self.fetches_first {
            pull::pull_into(self, self.now).await?;
        }
        Ok(())
    }

    /// Every place of the club that something is forecast for.
    pub fn places(&self) -> Vec<LatLon> {
        let venues = self.club.venues.iter();
        venues.flat_map(Venue::forecast_places).collect()
    }

    /// The sessions that leave within so many days. One that has left keeps the advisory it left with.
    pub fn coming(&self, days: u16) -> Vec<Occurrence> {
        self.coming_at(self.now, days)
    }

    /// As [`Self::coming`], at another moment.
    pub fn coming_at(&self, now: DateTime<Utc>, days: u16) -> Vec<Occurrence> {
        let until = now + TimeDelta::days(i64::from(days));
        occurrences(&self.club, now, until)
            .into_iter()
            .filter(|session| session.leaves > now)
            .collect()
    }
}

/// Settings of which nothing was given.
fn defaults() -> Result<Settings, CommandError> {
    Settings::read(None, &BTreeMap::new()).map_err(|mistakes| CommandError::Wrong(mistakes.to_string()))
}

/// The store alone and the moment, for commands that need no club: the demo's, unless one is named or set.
pub async fn store_alone(
    around: &Surroundings,
    named: Option<&str>,
    of_store: Use,
) -> Result<(Store, DateTime<Utc>), CommandError> {
    let settings = around.settings().await?;
    leave_the_record(around, named, of_store)?;
    if settings.is_none() && named.is_none() {
        let context = Context::of_demo(around, around.now).await?;
        return Ok((context.store, context.now));
    }
    let settings = settings.map_or_else(defaults, Ok)?;
    let store = open_store(&store_address(named, &settings)?).await?;
    Ok((store, around.now.unwrap_or_else(Utc::now)))
}

fn leave_the_record(around: &Surroundings, named: Option<&str>, of_store: Use) -> Result<(), CommandError> {
    if let (Use::Writes(what), Some(_), None) = (of_store, around.now, named) {
        return Err(CommandError::Wrong(format!(
            "cringle: with --now {what}, and the store of the settings is a record of what was really known and said: \
             name a store of its own with --store FILE"
        )));
    }
    Ok(())
}

fn store_address(named: Option<&str>, settings: &Settings) -> Result<StoreAddress, CommandError> {
    let named = named.map(StoreAddress::new);
    named.or_else(|| settings.store.clone()).ok_or_else(|| {
        CommandError::Wrong(
            "cringle: which store? Give --store FILE, or set [store] url (CRINGLE__STORE__URL)".to_owned(),
        )
    })
}

async fn open_store(address: &StoreAddress) -> Result<Store, CommandError> {
    // The error of the store names its address without a password.
    Store::open(address.exposed())
        .await
        .map_err(failed("the store cannot be opened"))
}

async fn read_text(path: &Path) -> Result<String, CommandError> {
    let wrong = |words: String| {
        CommandError::Wrong(format!("cringle: the settings file {}: {words}", path.display()))
    };
    let mut octets = Vec::new();
    let file = tokio::fs::File::open(path).await;
    let file = file.map_err(|error| {
        wrong(format!(
            "it cannot be read ({error}): name one that can with --config"
        ))
    })?;
    file.take(SETTINGS_AT_MOST as u64 + 1)
        .read_to_end(&mut octets)
        .await
        .map_err(|error| {
            wrong(format!(
                "it cannot be read ({error}): name one that can with --config"
            ))
        })?;
    if octets.len() > SETTINGS_AT_MOST {
        return Err(wrong(format!(
            "it is longer than {SETTINGS_AT_MOST} octets: shorten it"
        )));
    }
    String::from_utf8(octets).map_err(|error| {
        let at = error.utf8_error().valid_up_to();
        wrong(format!("octet {at} is no UTF-8 text: write it in UTF-8"))
    })
}

/// The club file's text and club, free of mistakes; with feeds at hand its venues lie inside their grid.
async fn read_club(
    file: Option<&PathBuf>,
    feeds: Option<&Path>,
    now: DateTime<Utc>,
) -> Result<(String, Club), CommandError> {
    let Some(path) = file else {
        return Ok((demo_run::CLUB.to_owned(), parse_club(demo_run::CLUB)?));
    };
    let area = match feeds {
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
