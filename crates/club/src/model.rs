//! A valid club: what the club file means once every check has passed.
//!
//! Nothing here can be built wrong from outside: `parse` is the only maker (unit tests of other crates use it too).

use crate::boat::Boat;
use crate::level::{Level, Limit};
use crate::policy::Policy;
use crate::waters::{HighWater, LimitSector, SeaBreeze, SeaByFetch, Sector, StreamTable, TideGate};
use chrono::{NaiveDateTime, NaiveTime, TimeDelta};
use chrono_tz::Tz;
use seaway::{Bearing, DirectionFrom, LatLon, NauticalMiles};
use serde::{Deserialize, Serialize};

/// A sailing club or school, as its file says.
#[derive(Clone, Debug)]
pub struct Club {
    /// Its name, as shown.
    pub name: String,
    /// Its short name in addresses: lower-case letters, digits and hyphens.
    pub slug: String,
    /// The zone its session times are written in.
    pub time_zone: Tz,
    /// How to reach it, as shown.
    pub contact: Option<String>,
    /// When, on the day before a session, the club decides.
    pub decides_at: NaiveTime,
    /// When the daily mail to its subscribers is due, wall time; none: the club sends no mail.
    pub digest_at: Option<NaiveTime>,
    /// Where official warnings are found, as shown beside "warnings not checked".
    pub warnings_from: Option<String>,
    /// Whether anyone may read what is issued for it; otherwise only with a token of the club.
    pub public: bool,
    /// The club's hours, wall time: openings are looked for within them; none: all the day's light.
    pub sails: Option<(NaiveTime, NaiveTime)>,
    /// The numbers of trade judgement, changeable by the club.
    pub policy: Policy,
    /// Places they sail.
    pub venues: Vec<Venue>,
    /// Yachts.
    pub boats: Vec<Boat>,
    /// Crew experience levels, least experienced first.
    pub levels: Vec<Level>,
    /// Outings, single or recurring.
    pub sessions: Vec<SessionRule>,
    /// SHA-256 of the file's text: the club's version.
    pub version: String,
}

/// Other venues that are asked for a way out: each costs a forecast read and a call made.
const VENUES_NEAR_AT_MOST: usize = 3;

impl Club {
    /// The other venues near enough to be a way out from one (`another_venue_within_nm`), the nearest
    /// first, a few at most: their indices.
    pub fn venues_near(&self, venue: &Venue) -> Vec<usize> {
        let Some(here) = venue.points.first() else {
            return Vec::new();
        };
        let off = |other: &Venue| other.points.first().map(|there| here.at.distance(there.at));
        let mut near: Vec<(NauticalMiles, usize)> = self
            .venues
            .iter()
            .enumerate()
            .filter(|(_, other)| other.id != venue.id)
            .filter_map(|(index, other)| Some((off(other)?, index)))
            .filter(|(distance, _)| *distance <= self.policy.another_venue_within_nm)
            .collect();
        near.sort_by(|a, b| a.0.0.total_cmp(&b.0.0).then(a.1.cmp(&b.1)));
        near.into_iter()
            .map(|(_, index)| index)
            .take(VENUES_NEAR_AT_MOST)
            .collect()
    }
}

/// A place they sail.
#[derive(Clone, Debug)]
pub struct Venue {
    /// Key in the file.
    pub id: String,
    /// As shown.
    pub name: String,
    /// Where the forecast is taken: one or more; the windiest and the roughest of them count.
    pub points: Vec<ForecastPoint>,
    /// Shores near enough to matter.
    pub shores: Vec<Shore>,
    /// The berth, if the club gave it.
    pub berth: Option<Berth>,
    /// The way in and out, if the club gave it.
    pub entrance: Option<Entrance>,
    /// Factors on the mean wind by sector, given by the club or learned.
    pub wind_sectors: Vec<WindSector>,
    /// Factors on the level's limits of wind and sea by where the wind comes from.
    pub limit_sectors: Vec<LimitSector>,
    /// Sheltered water: how far the wind blows over it.
    pub fetch: Option<SeaByFetch>,
    /// High waters, ascending.
    pub high_waters: Vec<HighWater>,
    /// The tidal stream.
    pub stream: Option<StreamTable>,
    /// Where the sea breeze comes from.
    pub sea_breeze: Option<SeaBreeze>,
}

impl Venue {
    /// Every place something is forecast for: its points, and the land whose warmth drives its sea breeze.
    pub fn forecast_places(&self) -> impl Iterator<Item = LatLon> {
        let land = self.sea_breeze.map(|breeze| breeze.land);
        self.points.iter().map(|point| point.at).chain(land)
    }
}

/// A point the forecast is taken at.
#[derive(Clone, Debug, PartialEq)]
pub struct ForecastPoint {
    /// As shown.
    pub name: String,
    /// Where.
    pub at: LatLon,
}

/// A stretch of shore, seen from the venue.
#[derive(Clone, Debug, PartialEq)]
pub struct Shore {
    /// As shown.
    pub name: String,
    /// The way from the venue to its middle.
    pub bearing: Bearing,
    /// How wide it looks from the venue, degrees in all.
    pub width_deg: f64,
    /// How far it is.
    pub distance: NauticalMiles,
}

/// Which side of the boat lies against the pontoon.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum MooredSide {
    /// Port side to.
    Port,
    /// Starboard side to.
    Starboard,
}

/// How a boat lies at her berth, and the aisle she leaves by.
#[derive(Clone, Debug, PartialEq)]
pub struct Berth {
    /// Where her bow points when moored.
    pub heading: Bearing,
    /// Which side is against the pontoon.
    pub moored: MooredSide,
    /// The way out along the marina aisle.
    pub fairway: Bearing,
}

/// The way in and out of the harbour.
#[derive(Clone, Debug, PartialEq)]
pub struct Entrance {
    /// As shown.
    pub name: String,
    /// Minutes from the berth to it.
    pub minutes_from_berth: f64,
    /// Seas from these directions run into it; none: all of them count.
    pub open_to: Option<Sector>,
    /// Limits of its own on the sea in it; none: the level's count.
    pub wave: Option<Limit>,
    /// When there is water enough in it; none: always.
    pub gate: Option<TideGate>,
}

/// A factor on the mean wind for directions from one bearing clockwise to another.
#[derive(Clone, Debug, PartialEq)]
pub struct WindSector {
    /// First direction *from*.
    pub from: DirectionFrom,
    /// Last direction *from*, clockwise.
    pub to: DirectionFrom,
    /// Factor on the mean; shelter (below 1) never lowers a gust.
    pub factor: f64,
    /// What it was learned from; none where the club gave it.
    pub learned: Option<Learned>,
}

/// What a learned factor rests on.
#[derive(Clone, Debug, PartialEq)]
pub struct Learned {
    /// Logged hours above 12 kn.
    pub hours: u32,
    /// Who of the club signed it.
    pub signed_by: String,
}

/// A leg of a session.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Leg {
    /// Its course.
    pub bearing: Bearing,
    /// Its length.
    pub distance: NauticalMiles,
}

/// An outing as the file gives it: dated, or recurring by an RFC 5545 rule, in wall time of the club's zone.
#[derive(Clone, Debug)]
pub struct SessionRule {
    /// Key in the file.
    pub id: String,
    /// Venue, an index into `Club::venues`.
    pub venue: usize,
    /// Boat, an index into `Club::boats`.
    pub boat: usize,
    /// Level, an index into `Club::levels`.
    pub level: usize,
    /// First leaving, wall time.
    pub leaves: NaiveDateTime,
    /// From leaving to being alongside.
    pub lasts: TimeDelta,
    /// RFC 5545 RRULE value without `RRULE:`, if it recurs.
    pub recurrence: Option<String>,
    /// The legs, if given.
    pub legs: Vec<Leg>,
}
