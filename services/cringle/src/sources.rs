//! Which sources a command works with, and where the tree of each one is.
//!
//! Owns: the choice by settings and club. Must not know: how trees are read.

use crate::commands::pull::address;
use crate::output::CommandError;
use crate::settings::Settings;
use club::Club;
use feeds::Feed;
use forecast::SourceId;
use std::path::Path;

/// The enabled sources that have a tree in a folder.
pub fn of_folder(settings: &Settings, club: &Club, folder: &Path) -> Vec<(Feed, String)> {
    let feeds = enabled(settings, club).into_iter();
    feeds
        .filter_map(|feed| Some((feed.clone(), address(folder, feed)?)))
        .collect()
}

/// The enabled sources at their own addresses.
pub fn of_settings(settings: &Settings, club: &Club) -> Vec<(Feed, String)> {
    let feeds = enabled(settings, club).into_iter();
    feeds.map(|feed| (feed.clone(), feed.base_url.clone())).collect()
}

/// The sources that are set; without such a setting those the club's policy names.
fn enabled<'a>(settings: &'a Settings, club: &Club) -> Vec<&'a Feed> {
    let catalogue = &settings.catalogue;
    match &settings.enabled {
        Some(names) => names.iter().filter_map(|name| catalogue.feed(name)).collect(),
        None => advisor::named_feeds(catalogue, club),
    }
}

/// That the settings have the sources of their own which the club's policy names: no file but theirs tells of them.
pub fn all_are_known(settings: &Settings, club: &Club) -> Result<(), CommandError> {
    let policy = &club.policy;
    let named = (policy.wind_sources.iter())
        .chain(&policy.deterministic_sources)
        .chain(&policy.wave_sources)
        .chain(&policy.weather_sources);
    let is_set = |name: &str| settings.catalogue.feed(&SourceId::new(name)).is_some();
    match named.into_iter().find(|name| !is_set(name)) {
        None => Ok(()),
        Some(name) => Err(CommandError::Wrong(format!(
            "cringle: the club's policy names {name}, which no settings tell of: add a table [sources.{name}], or name another \
             source"
        ))),
    }
}
