//! Reads venues: forecast points, shores, berth, entrance.
//!
//! Owns: `[[venues]]`, and which of the rooms beside this one reads what hangs below it. Must not know: boats, sessions, which grid covers a point.

use super::levels::read_limit;
use super::tide::{HighWatersPlace, read_gate, read_tide};
use super::value::Value;
use super::waters::{read_fetch, read_limit_sector, read_sea_breeze, read_sector, read_wind_sector};
use super::{Table, entries};
use crate::level::Quantity;
use crate::model::{Berth, Entrance, ForecastPoint, MooredSide, Shore, Venue};
use crate::policy::Policy;
use chrono_tz::Tz;
use seaway::{Bearing, LatLon, NauticalMiles};

/// Points, shores or sectors of one venue at most.
const PARTS_AT_MOST: usize = 36;

/// Where a forecast point stands in the file, for mistakes that only a forecast's grid can show.
pub(crate) struct PointPlace {
    /// Path of the point.
    pub(crate) path: String,
    /// Byte offset of its latitude.
    pub(crate) at: usize,
    /// The point.
    pub(crate) point: LatLon,
}

/// Reads one venue, and where its high waters stand; the places of its points are added to `places`, readable venue or
/// not.
pub(crate) fn read_venue(
    table: &mut Table<'_>,
    zone: Option<Tz>,
    policy: &Policy,
    places: &mut Vec<PointPlace>,
) -> Option<(Venue, Option<HighWatersPlace>)> {
    let id = table
        .required("id", "the venue's key")
        .and_then(|value| value.key());
    let name = table
        .required("name", "the venue's name")
        .and_then(|value| value.text());
    let points = table.required(
        "points",
        "at least one point, such as { lat = 43.5, lon = -15.5 }",
    );
    let venue_name = name.clone().unwrap_or_default();
    let points = entries(points, PARTS_AT_MOST, |_, point| {
        read_point(point, &venue_name, places)
    });
    let shores = optional_list(table, "shores", read_shore);
    let berth = optional_table(table, "berth", read_berth);
    let mut gate = None;
    let entrance = optional_table(table, "entrance", |inner| read_entrance(inner, &mut gate));
    let wind_sectors = optional_list(table, "wind_sectors", |sector| read_wind_sector(sector, policy));
    let limit_sectors = optional_list(table, "limit_sectors", read_limit_sector);
    let fetch = optional_table(table, "fetch", read_fetch);
    let tide = optional_table(table, "tide", read_tide);
    let sea_breeze = optional_table(table, "sea_breeze", |inner| read_sea_breeze(inner, zone, places));
    if let (Some(gate), Some(None)) = (gate, &tide) {
        gate.mistake("high waters in [venues.tide], which a gate is reckoned from");
    }
    let (high_waters, stream, high_waters_place) = match tide? {
        Some(tide) => (tide.high_waters, tide.stream, Some(tide.place)),
        None => (Vec::new(), None, None),
    };
    let venue = Venue {
        id: id?,
        name: name?,
        points: points?,
        shores: shores?,
        berth: berth?,
        entrance: entrance?,
        wind_sectors: wind_sectors?,
        limit_sectors: limit_sectors?,
        fetch: fetch?,
        high_waters,
        stream,
        sea_breeze: sea_breeze?,
    };
    Some((venue, high_waters_place))
}

/// A list that may be left out: none only if something in it is wrong.
fn optional_list<'p, T>(
    table: &mut Table<'p>,
    key: &'static str,
    mut read_one: impl FnMut(&mut Table<'p>) -> Option<T>,
) -> Option<Vec<T>> {
    match table.optional(key) {
        None => Some(Vec::new()),
        value => entries(value, PARTS_AT_MOST, |_, entry| read_one(entry)),
    }
}

/// A table that may be left out: none only if something in it is wrong.
fn optional_table<'p, T>(
    table: &mut Table<'p>,
    key: &'static str,
    read: impl FnOnce(&mut Table<'p>) -> Option<T>,
) -> Option<Option<T>> {
    let Some(value) = table.optional(key) else {
        return Some(None);
    };
    let mut inner = value.table()?;
    let one = read(&mut inner);
    inner.finish();
    one.map(Some)
}

fn read_point(
    table: &mut Table<'_>,
    venue_name: &str,
    places: &mut Vec<PointPlace>,
) -> Option<ForecastPoint> {
    let name = table
        .optional("name")
        .map_or(Some(venue_name.to_owned()), |value| value.text());
    let at = read_place(table, places)?;
    Some(ForecastPoint { name: name?, at })
}

/// Latitude and longitude, noted in `places`.
pub(crate) fn read_place(table: &mut Table<'_>, places: &mut Vec<PointPlace>) -> Option<LatLon> {
    let lat_value = table.required("lat", "degrees north, -90 to 90");
    let lat = lat_value.as_ref().and_then(|value| value.number(-90.0..=90.0));
    let lon = table
        .required("lon", "degrees east, -180 to 360")
        .and_then(|value| value.number(-180.0..=360.0));
    let at = LatLon::new(lat?, lon?)?;
    places.push(PointPlace {
        path: table.path().to_owned(),
        at: lat_value?.at(),
        point: at,
    });
    Some(at)
}

fn read_shore(table: &mut Table<'_>) -> Option<Shore> {
    let name = table
        .required("name", "the shore's name")
        .and_then(|value| value.text());
    let bearing = degrees(
        table,
        "bearing_deg",
        "the way to the shore's middle, degrees true",
    );
    let width = table
        .required("width_deg", "how wide the shore looks, degrees")
        .and_then(|value| value.number(1.0..=360.0));
    let distance = table
        .required("distance_nm", "how far it is")
        .and_then(|value| value.number(0.0..=100.0));
    Some(Shore {
        name: name?,
        bearing: Bearing::new(bearing?),
        width_deg: width?,
        distance: NauticalMiles(distance?),
    })
}

fn read_berth(table: &mut Table<'_>) -> Option<Berth> {
    let heading = degrees(
        table,
        "heading_deg",
        "where her bow points when moored, degrees true",
    );
    let moored = table
        .required("moored", "\"port\" or \"starboard\"")
        .and_then(|value| value.one_of(&["port", "starboard"]));
    let fairway = degrees(table, "fairway_deg", "the way out along the aisle, degrees true");
    Some(Berth {
        heading: Bearing::new(heading?),
        moored: if moored? == "port" {
            MooredSide::Port
        } else {
            MooredSide::Starboard
        },
        fairway: Bearing::new(fairway?),
    })
}

/// Reads the entrance; its gate's place is kept in `gate_value`, for a gate needs high waters.
fn read_entrance<'p>(table: &mut Table<'p>, gate_value: &mut Option<Value<'p>>) -> Option<Entrance> {
    let name = table
        .required("name", "the entrance's name")
        .and_then(|value| value.text());
    let minutes = table.required("minutes_from_berth", "minutes under way from the berth");
    let minutes = minutes.and_then(|value| value.number(0.0..=600.0));
    let open_to = optional_table(table, "open_to", read_sector);
    let wave = optional_table(table, "wave_m", |pair| read_limit(Quantity::WaveHeight, pair));
    let gate = optional_table(table, "gate", read_gate);
    *gate_value = table.optional("gate");
    Some(Entrance {
        name: name?,
        minutes_from_berth: minutes?,
        open_to: open_to?,
        wave: wave?,
        gate: gate?,
    })
}

/// Degrees true of a key that must be there.
pub(crate) fn degrees(table: &mut Table<'_>, key: &'static str, expected: &str) -> Option<f64> {
    table
        .required(key, expected)
        .and_then(|value| value.number(0.0..=360.0))
}
