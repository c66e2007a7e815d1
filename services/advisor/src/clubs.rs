//! Advising once on every club of the store, by the newest version of each one's file.
//!
//! Must not know: when it is time to.

use crate::error::AdvisorError;
use crate::issue::{Desk, Round};
use crate::wake::decision_hours;
use chrono::{DateTime, TimeDelta, Utc};
use club::{Club, Occurrence, Venue, occurrences};
use feeds::Catalogue;
use seaway::LatLon;
use std::sync::Arc;
use store::Store;

/// Days ahead that are advised on, as the board shows them.
const DAYS: i64 = 7;

/// What came of advising on every club.
#[derive(Debug, Default)]
pub struct Advised {
    /// The sessions of all clubs.
    pub round: Round,
    /// When the clubs decide on them.
    pub decision_hours: Vec<DateTime<Utc>>,
}

/// The sessions that leave within a week. One that has left keeps the advisory it left with.
pub fn coming(club: &Club, now: DateTime<Utc>) -> Vec<Occurrence> {
    let mut coming = occurrences(club, now, now + TimeDelta::days(DAYS));
    coming.retain(|session| session.leaves > now);
    coming
}

/// Advises on the coming sessions of every club of the store. A club that cannot be read does not hinder the others.
pub async fn advise_all(store: &Store, catalogue: &Arc<Catalogue>, now: DateTime<Utc>) -> Advised {
    let mut advised = Advised::default();
    // A file is a record of what the club wants, not of the weather: one that another process has just kept counts, though
    // its clock be ahead.
    let slugs = match store.club_slugs(DateTime::<Utc>::MAX_UTC).await {
        Ok(slugs) => slugs,
        Err(error) => {
            advised.round.fail("every club", error.into());
            return advised;
        }
    };
    for slug in slugs {
        let club = match newest(store, &slug).await {
            Ok(club) => club,
            Err(error) => {
                advised.round.fail(&slug, error);
                continue;
            }
        };
        let sessions = coming(&club, now);
        advised.decision_hours.extend(decision_hours(&club, &sessions));
        let club = Arc::new(club);
        let desk = Desk {
            store,
            catalogue,
            club: &club,
        };
        let round = desk.advise(&sessions, now).await;
        advised.round.issued.extend(round.issued);
        advised.round.failed.extend(round.failed);
    }
    advised
}

/// Every place that something is forecast for, of every club of the store but one: what a fetcher must fetch beside that
/// club's own. A club whose file cannot be read has none, and is told of when it is advised on.
///
/// # Errors
/// If the store cannot be read.
pub async fn places_of_others(store: &Store, own: &str) -> Result<Vec<LatLon>, AdvisorError> {
    let mut places = Vec::new();
    for slug in store.club_slugs(DateTime::<Utc>::MAX_UTC).await? {
        if slug != own
            && let Ok(club) = newest(store, &slug).await
        {
            places.extend(club.venues.iter().flat_map(Venue::forecast_places));
        }
    }
    Ok(places)
}

async fn newest(store: &Store, slug: &str) -> Result<Club, AdvisorError> {
    let unreadable = || AdvisorError::Unreadable {
        slug: slug.to_owned(),
    };
    let newest = store
        .latest_club_version(slug, DateTime::<Utc>::MAX_UTC)
        .await?
        .ok_or_else(unreadable)?;
    club::parse(&newest.file.text)
        .map(|parsed| parsed.club)
        .map_err(|_| unreadable())
}
