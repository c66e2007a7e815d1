//! Which values an occurrence needs, read from the store and cut to what is used.

use crate::error::AdvisorError;
use advisory::{AROUND, FeedFacts, Inputs};
use chrono::{DateTime, TimeDelta, Utc};
use club::{Club, Occurrence, Venue};
use feeds::{Catalogue, Feed};
use forecast::{RunSlice, SourceId};
use rules::outing::OVERRUN;
use seaway::LatLon;
use std::collections::BTreeSet;
use store::Store;

/// No hour is shown that lies longer than this before leaving.
const BEFORE_LEAVING: TimeDelta = TimeDelta::hours(2);

/// The inputs of one occurrence: what the runs that serve it say near its venue around its hours.
///
/// Runs that do not serve are no inputs. An older run that has left the window of what is read, or a newer one still
/// appearing, changes nothing, so it must not make another advisory of the same: two advisors whose clocks lie on either
/// side of an age limit would otherwise issue in turn.
pub fn gather(
    catalogue: &Catalogue,
    club: &Club,
    occurrence: &Occurrence,
    slices: &[RunSlice],
    now: DateTime<Utc>,
) -> Inputs {
    let rule = &club.sessions[occurrence.session];
    // A front is told by the wind some hours before the first hour shown.
    let before = AROUND.max(hours(club.policy.front_within_h) + BEFORE_LEAVING);
    let (from, to) = (occurrence.leaves - before, occurrence.alongside + AROUND);
    let span = (occurrence.leaves, occurrence.alongside + OVERRUN);
    let cut: Vec<RunSlice> = slices.iter().map(|slice| slice.cut(from, to)).collect();
    Inputs {
        club_version: club.version.clone(),
        session: rule.id.clone(),
        occurrence: occurrence.id.clone(),
        leaves: occurrence.leaves,
        alongside: occurrence.alongside,
        slices: conditions::runs_used(&club.policy, &cut, now, span),
        moved: Vec::new(),
        held: None,
        follows: None,
        feeds: named_feeds(catalogue, club).into_iter().map(facts_of).collect(),
        catalogue: catalogue.hash().to_owned(),
        rules: rules::RULES_VERSION.to_owned(),
        time_zones: chrono_tz::IANA_TZDB_VERSION.to_owned(),
    }
}

/// Every run that is not too old of each source the club's policy names, and of the feeds that hold their land masks, near a venue.
///
/// A run still appearing does not hide the complete one before it: which serves a session is chosen by the conditions.
pub async fn slices_for(
    store: &Store,
    catalogue: &Catalogue,
    club: &Club,
    venue: &Venue,
    now: DateTime<Utc>,
) -> Result<Vec<RunSlice>, AdvisorError> {
    // Another venue may be the way out, so what is forecast there is read too.
    let others = club
        .venues_near(venue)
        .into_iter()
        .map(|index| &club.venues[index]);
    let near: Vec<LatLon> = std::iter::once(venue)
        .chain(others)
        .flat_map(Venue::forecast_places)
        .collect();
    let policy = &club.policy;
    let oldest_h = policy
        .stale_after_near_h
        .max(policy.stale_after_far_h)
        .max(policy.stale_after_regional_h);
    let oldest = now - hours(oldest_h);
    let mut slices = Vec::new();
    for feed in named_feeds(catalogue, club) {
        for run in store
            .runs(&feed.name, now)
            .await?
            .iter()
            .filter(|run| run.reference >= oldest)
        {
            slices.extend(
                store
                    .read_slice(&feed.name, run.reference, now, &near, None)
                    .await?,
            );
        }
    }
    Ok(slices)
}

/// The feeds the policy names and their land masks, in the catalogue's order.
pub fn named_feeds<'a>(catalogue: &'a Catalogue, club: &Club) -> Vec<&'a Feed> {
    let policy = &club.policy;
    let lists = [
        &policy.wind_sources,
        &policy.deterministic_sources,
        &policy.wave_sources,
        &policy.weather_sources,
    ];
    let mut wanted: BTreeSet<SourceId> = lists.into_iter().flatten().map(SourceId::new).collect();
    let masks: Vec<SourceId> = catalogue
        .feeds()
        .iter()
        .filter(|feed| wanted.contains(&feed.name))
        .filter_map(|feed| feed.land_mask.clone())
        .collect();
    wanted.extend(masks);
    catalogue
        .feeds()
        .iter()
        .filter(|feed| wanted.contains(&feed.name))
        .collect()
}

fn hours(hours: f64) -> TimeDelta {
    TimeDelta::seconds((hours * 3600.0).round() as i64)
}

fn facts_of(feed: &Feed) -> FeedFacts {
    let every_h = 24 / feed.cycles.len().clamp(1, 24);
    FeedFacts {
        source: feed.name.clone(),
        attribution: feed.attribution.clone(),
        every_h: u16::try_from(every_h).unwrap_or(24),
        usually_out_after_min: u16::try_from(feed.usual_delay_min).unwrap_or(u16::MAX),
    }
}
