//! The venue and the policy as supposed hours need them.
//!
//! Owns: what stands in for what a file of hours does not say. Must not know: any limit of its own, how the hours were written.

use super::judged::Question;
use super::slice::SOURCE;
use club::model::WindSector;
use club::waters::{LimitSector, SeaByFetch, Sector, StreamTable};
use club::{Policy, Venue};
use seaway::wave_growth::FetchTable;
use seaway::{Bearing, DirectionFrom, LatLon};

/// Where a wind without a direction stands for coming from.
const STAND_IN: f64 = 0.0;

/// The venue and the policy: one point, one source for everything.
///
/// Where some direction is not given, nothing is judged by direction: berth and shores are set aside, and the hardest of what depends on
/// it counts, whichever way the wind blows.
pub fn stage(question: &Question<'_>, lacks_direction: bool) -> (Venue, Policy) {
    let only = vec![SOURCE.to_owned()];
    let mut policy = Policy {
        wind_sources: only.clone(),
        deterministic_sources: only.clone(),
        wave_sources: only.clone(),
        weather_sources: only,
        ..question.club.policy.clone()
    };
    let mut venue = question.venue.clone();
    venue.points.truncate(1);
    if let Some(breeze) = &mut venue.sea_breeze {
        breeze.land = beside(venue.points[0].at);
    }
    if lacks_direction {
        without_direction(&mut venue, &mut policy);
    }
    (venue, policy)
}

/// A place apart, where the run of supposed hours keeps the land's warmth.
fn beside(place: LatLon) -> LatLon {
    let lat = if place.lat < 0.0 {
        place.lat + 1.0
    } else {
        place.lat - 1.0
    };
    LatLon { lat, ..place }
}

/// The wind stands as one from north: a sector around north is every direction's.
fn around_stand_in() -> Sector {
    Sector {
        from: DirectionFrom::new(STAND_IN - 90.0),
        to: DirectionFrom::new(STAND_IN + 90.0),
    }
}

fn without_direction(venue: &mut Venue, policy: &mut Policy) {
    if !venue.shores.is_empty() {
        policy.gust_factor_sea = policy.gust_factor_sea.max(policy.gust_factor_land);
    }
    // No veer can be told.
    policy.front_veer_deg = f64::INFINITY;
    venue.shores.clear();
    venue.berth = None;
    let largest = venue
        .wind_sectors
        .iter()
        .map(|sector| sector.factor)
        .reduce(f64::max);
    venue.wind_sectors = largest
        .filter(|&factor| factor > 1.0)
        .map(|factor| WindSector {
            from: around_stand_in().from,
            to: around_stand_in().to,
            factor,
            learned: None,
        })
        .into_iter()
        .collect();
    let tightest = venue
        .limit_sectors
        .iter()
        .map(|sector| sector.factor)
        .reduce(f64::min);
    venue.limit_sectors = tightest
        .map(|factor| LimitSector {
            sector: around_stand_in(),
            factor,
        })
        .into_iter()
        .collect();
    if let Some(entrance) = &mut venue.entrance {
        entrance.open_to = None;
    }
    if let Some(breeze) = &mut venue.sea_breeze {
        breeze.onshore_from = DirectionFrom::new(STAND_IN);
    }
    venue.stream = venue.stream.take().map(dead_against);
    venue.fetch = venue.fetch.take().map(all_round);
}

/// The whole of a stream runs against the wind.
fn dead_against(mut table: StreamTable) -> StreamTable {
    for row in &mut table.rows {
        row.set = Bearing::new(STAND_IN);
    }
    table
}

/// The longest fetch lies to windward.
fn all_round(water: SeaByFetch) -> SeaByFetch {
    let table = FetchTable::new(vec![(DirectionFrom::new(STAND_IN), water.table.longest())]);
    match table {
        Some(table) => SeaByFetch { table, ..water },
        None => water,
    }
}
