//! A valid club: what the club file means once every check has passed.
//!
//! Nothing here can be built wrong from outside: `parse` is the only maker (unit tests of other crates use it too).

use crate::policy::Policy;
use crate::waters::{HighWater, LimitSector, SeaBreeze, SeaByFetch, Sector, StreamTable, TideGate};
use chrono::{NaiveDateTime, NaiveTime, TimeDelta};
use chrono_tz::Tz;
use seaway::apparent::{WindOffBow, apparent_off_bow};
use seaway::profile::{FORECAST_HEIGHT, OPEN_SEA_ROUGHNESS, log_law_ratio};
use seaway::{Bearing, DirectionFrom, Knots, LatLon, Metres, NauticalMiles};
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
    /// Where official warnings are found, as shown beside "warnings not checked".
    pub warnings_from: Option<String>,
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

/// A yacht with its reef table.
#[derive(Clone, Debug)]
pub struct Boat {
    /// Key in the file.
    pub id: String,
    /// As shown.
    pub name: String,
    /// What she carries by wind.
    pub reef_table: ReefTable,
    /// Which wind her table speaks of.
    pub table_wind: TableWind,
    /// The closest she sails to the true wind in flat water, degrees (45, no source: common practice).
    pub closest_deg: f64,
    /// Her measures, if the club gave them: they check the table and change no call.
    pub dimensions: Option<crate::dimensions::BoatDimensions>,
}

impl Boat {
    /// A true wind at 10 m as the wind her table speaks of, knots. Apparent wind is that of close hauled, whatever the
    /// leg: a boat overpowered on a run finds out when she rounds up.
    pub fn in_table(&self, wind: Knots) -> Knots {
        let TableWind::ApparentAtMasthead { height, boat_speed } = self.table_wind else {
            return wind;
        };
        let ratio = log_law_ratio(FORECAST_HEIGHT, height, OPEN_SEA_ROUGHNESS).unwrap_or(1.0);
        let aloft = WindOffBow {
            speed: Knots(wind.0 * ratio),
            angle_deg: self.closest_deg,
        };
        apparent_off_bow(aloft, boat_speed).speed
    }

    /// The true wind at 10 m that her table would call this wind: `in_table` the other way round. Calm where even that
    /// is more in her table, as her own speed is aloft.
    pub fn out_of_table(&self, wind: Knots) -> Knots {
        if self.table_wind == TableWind::True {
            return wind;
        }
        // Apparent wind close hauled rises with the true wind, and even a low masthead has more than half of that at 10 m;
        // sixty halvings leave no rest.
        let (mut low, mut high) = (0.0, 2.0 * wind.0);
        for _ in 0..60 {
            let middle = (low + high) / 2.0;
            if self.in_table(Knots(middle)) <= wind {
                low = middle;
            } else {
                high = middle;
            }
        }
        Knots(low)
    }

    /// Index of the row of her table for a true wind at 10 m; none past the table: she does not sail.
    pub fn row_for(&self, mean: Knots, gust: Knots) -> Option<usize> {
        self.reef_table.row_for(self.in_table(mean), self.in_table(gust))
    }
}

/// Fraction of the headsail's area that is set, 0 (furled) to 1 (full).
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Headsail(pub f64);

/// One row of a reef table.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ReefRow {
    /// Highest mean wind the row is for.
    pub mean_up_to: Knots,
    /// Highest gust the row is for.
    pub gust_up_to: Knots,
    /// Reefs in the main.
    pub reefs: u8,
    /// Fraction of the headsail.
    pub headsail: Headsail,
    /// What the club adds, if anything.
    pub note: Option<String>,
    /// The mark on the headsail's foot it is furled to, if the boat has marks.
    pub foot_mark: Option<String>,
}

/// Rows in order of rising wind; a table that exists rises: winds strictly, sail never grows.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ReefTable {
    pub(crate) rows: Vec<ReefRow>,
}

impl ReefTable {
    /// The rows, lightest wind first; there is at least one.
    pub fn rows(&self) -> &[ReefRow] {
        &self.rows
    }

    /// Index of the first row whose two limits both hold, of the wind the table speaks of; none past the table.
    pub fn row_for(&self, mean: Knots, gust: Knots) -> Option<usize> {
        self.rows
            .iter()
            .position(|row| mean <= row.mean_up_to && gust <= row.gust_up_to)
    }
}

/// Which wind a reef table speaks of.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum TableWind {
    /// True wind at 10 m, as forecasts give it.
    #[default]
    True,
    /// Apparent wind at the masthead, close hauled.
    ApparentAtMasthead {
        /// Height of the masthead's instrument above the water.
        height: Metres,
        /// Her speed close hauled under reduced sail.
        boat_speed: Knots,
    },
}

/// A quantity that a level can limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Quantity {
    /// Mean wind, kn.
    Mean,
    /// Gust, kn.
    Gust,
    /// Significant wave height, m.
    WaveHeight,
    /// Wave height over wave length (deep water), a ratio.
    Steepness,
    /// CAPE while it rains, J/kg.
    CapeWithRain,
    /// Wind across the berth, kn, leaving and returning.
    BerthCrosswind,
    /// Visibility, m; lower is worse.
    Visibility,
    /// Wind chill, degrees Celsius; lower is worse.
    WindChill,
    /// Water temperature, degrees Celsius; lower is worse.
    WaterTemperature,
    /// Minutes from being alongside to sunset; lower is worse.
    DaylightMargin,
}

impl Quantity {
    /// Every quantity a level can limit, in the order they are shown.
    pub const ALL: [Self; 10] = [
        Self::Mean,
        Self::Gust,
        Self::WaveHeight,
        Self::Steepness,
        Self::CapeWithRain,
        Self::BerthCrosswind,
        Self::Visibility,
        Self::WindChill,
        Self::WaterTemperature,
        Self::DaylightMargin,
    ];

    /// Whether lower values are the worse ones.
    pub fn lower_is_worse(self) -> bool {
        matches!(
            self,
            Self::Visibility | Self::WindChill | Self::WaterTemperature | Self::DaylightMargin
        )
    }

    /// The key of its pair in a level's `[limits]`, which carries the unit.
    pub fn key(self) -> &'static str {
        match self {
            Self::Mean => "mean_kn",
            Self::Gust => "gust_kn",
            Self::WaveHeight => "wave_m",
            Self::Steepness => "steepness",
            Self::CapeWithRain => "cape_with_rain_j_kg",
            Self::BerthCrosswind => "berth_crosswind_kn",
            Self::Visibility => "visibility_m",
            Self::WindChill => "wind_chill_c",
            Self::WaterTemperature => "water_c",
            Self::DaylightMargin => "daylight_margin_min",
        }
    }

    /// The unit of its values.
    pub fn unit(self) -> &'static str {
        match self {
            Self::Mean | Self::Gust | Self::BerthCrosswind => "kn",
            Self::WaveHeight | Self::Visibility => "m",
            Self::Steepness => "",
            Self::CapeWithRain => "J/kg",
            Self::WindChill | Self::WaterTemperature => "°C",
            Self::DaylightMargin => "min",
        }
    }
}

/// Where caution starts and where it stops, in the quantity's unit. Both are inclusive.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Limit {
    /// At or past this: marginal.
    pub caution_at: f64,
    /// At or past this: no-go.
    pub stop_at: f64,
}

/// A level's limits: a pair for each quantity the club limits.
pub type Limits = std::collections::BTreeMap<Quantity, Limit>;

/// A crew experience level.
#[derive(Clone, Debug)]
pub struct Level {
    /// Key in the file.
    pub id: String,
    /// As shown.
    pub name: String,
    /// The limits.
    pub limits: Limits,
    /// Below this mean wind a go is "go, light".
    pub light_below: Knots,
    /// What a light session can do, as shown.
    pub light_programme: Option<String>,
    /// Rows of the reef table to be more reefed than the wind asks for.
    pub extra_reefs: u8,
    /// Hours ahead whose most reefed row is the plan to leave with.
    pub reef_ahead: TimeDelta,
    /// Whether three marginal criteria in one hour make a no-go.
    pub accumulate: bool,
    /// Whether the crew are learners: cautions are then given earlier.
    pub learners: bool,
    /// Whether a thunderstorm's CAPE and rain (`squall_stop_*` of the policy) stop it by themselves.
    pub thunder_stops: bool,
    /// What it is taught, each with the hours it suits.
    pub syllabus: Vec<Lesson>,
}

/// One lesson of a level's syllabus.
#[derive(Clone, Debug, PartialEq)]
pub struct Lesson {
    /// As shown.
    pub name: String,
    /// Mean winds it suits, both included; none: any.
    pub wind: Option<(Knots, Knots)>,
    /// Seas it suits, both included; none: any.
    pub wave: Option<(Metres, Metres)>,
    /// For light air: listed apart, when there is too little wind to sail much.
    pub light_air: bool,
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
