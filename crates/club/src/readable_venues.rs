//! Venues in plain lines: where the forecast is taken, shores, the entrance, sectors, fetch, tide and sea breeze.
//!
//! Owns: those lines. Must not know: how any of it changes an hour, files, terminals.

use crate::level::Quantity;
use crate::model::{Entrance, Venue, WindSector};
use crate::readable::count;
use crate::readable_levels::limit_words;
use crate::waters::{HighWater, LimitSector, SeaByFetch, StreamRow, StreamTable};
use chrono_tz::Tz;
use seaway::{DirectionFrom, LatLon};

/// Metres in a nautical mile, exactly.
const METRES_PER_NAUTICAL_MILE: f64 = 1852.0;
/// The lines on one venue; high waters by the clocks of the club's zone.
pub(crate) fn venue_lines(venue: &Venue, zone: Tz) -> Vec<String> {
    let mut lines = vec![venue_line(venue)];
    lines.extend(venue.entrance.iter().filter_map(entrance_line));
    lines.extend(venue.wind_sectors.iter().map(wind_sector_line));
    lines.extend(venue.limit_sectors.iter().map(limit_sector_line));
    lines.extend(venue.fetch.iter().map(fetch_line));
    lines.extend(high_waters_line(&venue.high_waters, zone));
    lines.extend(
        venue
            .stream
            .iter()
            .flat_map(|stream| stream_lines(stream, &venue.high_waters)),
    );
    lines.extend(venue.sea_breeze.iter().map(|breeze| {
        format!(
            "    a sea breeze from {}, driven by the land at {}",
            degrees(breeze.onshore_from.degrees()),
            place(breeze.land)
        )
    }));
    lines
}

fn venue_line(venue: &Venue) -> String {
    let points: Vec<String> = venue
        .points
        .iter()
        .map(|point| format!("{} at {}", point.name, place(point.at)))
        .collect();
    let mut parts = vec![points.join(", ")];
    let shores = venue.shores.iter();
    parts.extend(shores.map(|shore| format!("{} {} nm off", shore.name, shore.distance.0)));
    let berth = venue.berth.as_ref();
    parts.extend(berth.map(|berth| format!("berth heading {}", degrees(berth.heading.degrees()))));
    parts.extend(venue.entrance.as_ref().map(|entrance| {
        format!(
            "{} {} min from the berth",
            entrance.name, entrance.minutes_from_berth
        )
    }));
    format!("  {}: {}", venue.name, parts.join("; "))
}

fn place(at: LatLon) -> String {
    let north = if at.lat < 0.0 { "S" } else { "N" };
    let east = if at.lon < 0.0 { "W" } else { "E" };
    format!("{:.2} {north} {:.2} {east}", at.lat.abs(), at.lon.abs())
}

fn degrees(degrees: f64) -> String {
    format!("{degrees:03.0}")
}

fn sector(from: DirectionFrom, to: DirectionFrom) -> String {
    format!("{} to {}", degrees(from.degrees()), degrees(to.degrees()))
}

fn entrance_line(entrance: &Entrance) -> Option<String> {
    let mut parts = Vec::new();
    let open_to = entrance.open_to.map(|open| sector(open.from, open.to));
    parts.extend(open_to.map(|open| format!("seas from {open} run into it")));
    parts.extend(
        entrance
            .wave
            .map(|limit| limit_words(Quantity::WaveHeight, limit)),
    );
    parts.extend(entrance.gate.map(|gate| {
        format!(
            "passable from {} h before high water to {} h after",
            gate.opens_before_h, gate.shuts_after_h
        )
    }));
    (!parts.is_empty()).then(|| format!("    {}: {}", entrance.name, parts.join("; ")))
}

fn wind_sector_line(of: &WindSector) -> String {
    let learned = of.learned.as_ref().map_or(String::new(), |learned| {
        format!(
            ", learned from {} above 12 kn, signed by {}",
            count(learned.hours as usize, "hour"),
            learned.signed_by
        )
    });
    format!(
        "    wind from {}: mean times {}{learned}",
        sector(of.from, of.to),
        of.factor
    )
}

fn limit_sector_line(of: &LimitSector) -> String {
    format!(
        "    wind from {}: limits of wind and sea times {}",
        sector(of.sector.from, of.sector.to),
        of.factor
    )
}

fn fetch_line(fetch: &SeaByFetch) -> String {
    let rows: Vec<String> = fetch
        .table
        .rows()
        .iter()
        .map(|(from, metres)| {
            format!(
                "{:.1} nm from {}",
                metres.0 / METRES_PER_NAUTICAL_MILE,
                degrees(from.degrees())
            )
        })
        .collect();
    let depth = match fetch.depth {
        Some(depth) => format!("{} m deep", depth.0),
        None => "deep".to_owned(),
    };
    let alone = if fetch.alone {
        "its sea is the local wind's alone"
    } else {
        "its sea is the local wind's or the wave model's, whichever is larger"
    };
    format!("    open water: {}; {depth}; {alone}", rows.join(", "))
}

fn high_waters_line(high_waters: &[HighWater], zone: Tz) -> Option<String> {
    let clock = |high: &HighWater| high.at.with_timezone(&zone).format("%Y-%m-%d %H:%M").to_string();
    let (first, last) = (high_waters.first()?, high_waters.last()?);
    Some(format!(
        "    {}, from {} to {}",
        count(high_waters.len(), "high water"),
        clock(first),
        clock(last)
    ))
}

fn stream_lines(stream: &StreamTable, high_waters: &[HighWater]) -> Vec<String> {
    let without = high_waters.iter().filter(|high| high.range.is_none()).count();
    let tides = match stream.ranges {
        None => "every tide is taken for springs".to_owned(),
        Some((springs, neaps)) => {
            let taken = match without {
                0 => String::new(),
                some => format!(
                    "; {} without a range, taken for springs",
                    count(some, "high water")
                ),
            };
            format!(
                "springs at a range of {} m, neaps at {} m{taken}",
                springs.0, neaps.0
            )
        }
    };
    let row = |row: &StreamRow| {
        format!(
            "      {:+} h: sets {}, {} kn at springs, {} at neaps",
            row.hour,
            degrees(row.set.degrees()),
            row.springs.0,
            row.neaps.0
        )
    };
    let head = format!("    stream by the hour from high water; {tides}:");
    std::iter::once(head).chain(stream.rows.iter().map(row)).collect()
}
