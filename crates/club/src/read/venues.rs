//! Reads venues: forecast points, shores, berth, entrance, wind by sector.
//!
//! Owns: `[[venues]]` and what hangs below it. Must not know: boats, sessions, which grid covers a point.

use super::{Table, entries};
use crate::model::{Berth, Entrance, ForecastPoint, MooredSide, Shore, Venue, WindSector};
use seaway::{Bearing, DirectionFrom, LatLon, NauticalMiles};

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

/// Reads one venue; the places of its points are added to `places`, readable venue or not.
pub(crate) fn read_venue(table: &mut Table<'_>, places: &mut Vec<PointPlace>) -> Option<Venue> {
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
    let entrance = optional_table(table, "entrance", read_entrance);
    let wind_sectors = optional_list(table, "wind_sectors", read_wind_sector);
    Some(Venue {
        id: id?,
        name: name?,
        points: points?,
        shores: shores?,
        berth: berth?,
        entrance: entrance?,
        wind_sectors: wind_sectors?,
        limit_sectors: Vec::new(),
        fetch: None,
        high_waters: Vec::new(),
        stream: None,
        sea_breeze: None,
    })
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
    Some(ForecastPoint { name: name?, at })
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

fn read_entrance(table: &mut Table<'_>) -> Option<Entrance> {
    let name = table
        .required("name", "the entrance's name")
        .and_then(|value| value.text());
    let minutes = table.required("minutes_from_berth", "minutes under way from the berth");
    let minutes = minutes.and_then(|value| value.number(0.0..=600.0));
    Some(Entrance {
        name: name?,
        minutes_from_berth: minutes?,
        open_to: None,
        wave: None,
        gate: None,
    })
}

fn read_wind_sector(table: &mut Table<'_>) -> Option<WindSector> {
    let from = degrees(
        table,
        "from_deg",
        "the sector's first direction the wind comes from, degrees true",
    );
    let to = degrees(table, "to_deg", "its last direction, clockwise, degrees true");
    let factor = table
        .required("factor", "the factor on the mean wind")
        .and_then(|value| value.number(0.5..=1.5));
    Some(WindSector {
        from: DirectionFrom::new(from?),
        to: DirectionFrom::new(to?),
        factor: factor?,
        learned: None,
    })
}

/// Degrees true of a key that must be there.
fn degrees(table: &mut Table<'_>, key: &'static str, expected: &str) -> Option<f64> {
    table
        .required(key, expected)
        .and_then(|value| value.number(0.0..=360.0))
}
