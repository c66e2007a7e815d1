//! Feeds whose runs are cut to a few steps and members, so that a pull with every kind of commit point takes a moment.
//!
//! Owns: these feeds and the plan of their pull, for the program that is killed and for the tests that kill it.
//! Must not know: who kills whom.

use chrono::{DateTime, Utc};
use feeds::{Catalogue, Feed};
use fetcher::{FetchPlan, SizeLimits};
use forecast::SourceId;
use seaway::LatLon;

/// `home-pool` of the invented week: it lies on a node.
pub const HOME_POOL: LatLon = LatLon {
    lat: 43.5,
    lon: -15.5,
};

/// Hours of a part: half of what the catalogue has, so that a short run has several.
const PART_HOURS: u16 = 6;
/// The last step of every run.
const LAST_STEP: u16 = 12;
/// Members beside the control.
const PERTURBED: u16 = 2;

/// A feed of the catalogue with runs of 12 hours in parts of 6, and of three members where it has members.
///
/// # Panics
/// When the catalogue has no such feed.
#[expect(clippy::expect_used, reason = "the names are written by hand in tests")]
pub fn short_feed(name: &str) -> Feed {
    let catalogue = Catalogue::embedded().expect("the embedded catalogue");
    let mut feed = catalogue.feed(&SourceId::new(name)).expect("the feed").clone();
    feed.steps.truncate(1);
    feed.steps[0].last = LAST_STEP;
    feed.short_runs = None;
    feed.part_hours = PART_HOURS;
    if let Some(members) = &mut feed.members {
        members.perturbed.count = PERTURBED;
    }
    feed
}

/// The plan of short runs of feeds, each with the address of its tree, as of an instant.
pub fn plan(sources: &[(String, String)], now: DateTime<Utc>) -> FetchPlan {
    FetchPlan {
        feeds: sources
            .iter()
            .map(|(name, address)| (short_feed(name), address.clone()))
            .collect(),
        places: vec![HOME_POOL],
        ring: 1,
        now,
        runs: 2,
        limits: SizeLimits::default(),
    }
}
