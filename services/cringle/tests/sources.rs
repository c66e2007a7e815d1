//! The sources a club can name are those the catalogue has. No source: the project's own lists.

#![expect(clippy::expect_used, reason = "a test fails loudly")]

use feeds::{Catalogue, Feed};
use forecast::Parameter;

fn serving(serves: impl Fn(&Feed) -> bool) -> Vec<String> {
    let catalogue = Catalogue::embedded().expect("the catalogue");
    let feeds = catalogue.feeds().iter().filter(|feed| serves(feed));
    let mut names: Vec<String> = feeds.map(|feed| feed.name.to_string()).collect();
    names.sort();
    names
}

fn named(names: &[&str]) -> Vec<String> {
    let mut names: Vec<String> = names.iter().map(|name| (*name).to_owned()).collect();
    names.sort();
    names
}

fn has(feed: &Feed, parameter: Parameter) -> bool {
    feed.wanted(parameter).is_some()
}

#[test]
fn a_club_can_name_every_feed_for_what_it_serves() {
    use club::sources::{DETERMINISTIC_SOURCES, WAVE_SOURCES, WEATHER_SOURCES, WIND_SOURCES};
    let wind = |feed: &Feed| has(feed, Parameter::WindU) && has(feed, Parameter::Gust);
    assert_eq!(named(&WIND_SOURCES), serving(wind));
    assert_eq!(
        named(&DETERMINISTIC_SOURCES),
        serving(|feed| wind(feed) && feed.members.is_none())
    );
    assert_eq!(
        named(&WAVE_SOURCES),
        serving(|feed| has(feed, Parameter::WaveHeight))
    );
    assert_eq!(
        named(&WEATHER_SOURCES),
        serving(|feed| has(feed, Parameter::AirTemperature))
    );
}

/// The catalogue holds no extent of a grid. What it tells of a model for a region: its producer serves Europe, and its runs end within
/// five days, where every global run goes on.
#[test]
fn the_regional_sources_are_those_whose_runs_end_early() {
    let last = |feed: &Feed| feed.steps.iter().map(|range| range.last).max().unwrap_or(0);
    assert_eq!(
        named(&club::sources::REGIONAL_SOURCES),
        serving(|feed| last(feed) <= 120)
    );
}
