//! A venue in sentences: points, shores, berth, entrance, sectors, fetch, tide, sea breeze.

use super::levels::limit_words;
use chrono_tz::Tz;
use club::{
    Berth, Entrance, HighWater, MooredSide, Quantity, SeaByFetch, Shore, StreamTable, Venue, WindSector,
};
use seaway::{DirectionFrom, LatLon, NauticalMiles};

/// Metres in a nautical mile, exactly.
const METRES_PER_NAUTICAL_MILE: f64 = 1852.0;

/// The sentences on one venue; high waters by the club's clocks.
pub(super) fn lines(venue: &Venue, zone: Tz) -> Vec<String> {
    let points = venue
        .points
        .iter()
        .map(|point| format!("{} at {}", point.name, place(point.at)));
    let mut lines = vec![format!(
        "The forecast is taken for {}. Of several points the windiest and the roughest count. Sunset is that of this place.",
        points.collect::<Vec<_>>().join(", ")
    )];
    lines.extend(venue.shores.iter().map(shore));
    lines.extend(venue.berth.as_ref().map(berth));
    lines.extend(venue.entrance.iter().flat_map(entrance));
    lines.extend(venue.wind_sectors.iter().map(wind_sector));
    lines.extend(venue.limit_sectors.iter().map(|one| {
        format!(
            "While the wind comes from {}, the limits of wind and sea are taken times {}.",
            sector(one.sector.from, one.sector.to),
            one.factor
        )
    }));
    lines.extend(venue.fetch.as_ref().map(fetch));
    lines.extend(high_waters(&venue.high_waters, zone));
    lines.extend(venue.stream.iter().flat_map(stream));
    lines.extend(venue.sea_breeze.map(|breeze| {
        format!(
            "A sea breeze comes from {}, driven by the warmth of the land at {}.",
            degrees(breeze.onshore_from.degrees()),
            place(breeze.land)
        )
    }));
    lines
}

fn place(at: LatLon) -> String {
    let north = if at.lat < 0.0 { "S" } else { "N" };
    let east = if at.lon < 0.0 { "W" } else { "E" };
    format!("{} {north} {} {east}", at.lat.abs(), at.lon.abs())
}

fn degrees(degrees: f64) -> String {
    let whole = degrees.fract() == 0.0;
    if whole {
        format!("{degrees:03.0}°")
    } else {
        format!("{degrees}°")
    }
}

fn sector(from: DirectionFrom, to: DirectionFrom) -> String {
    format!("{} to {}", degrees(from.degrees()), degrees(to.degrees()))
}

fn shore(shore: &Shore) -> String {
    format!(
        "{} lies {} nm off, at {}, {}° wide.",
        shore.name,
        shore.distance.0,
        degrees(shore.bearing.degrees()),
        shore.width_deg
    )
}

fn berth(berth: &Berth) -> String {
    let side = match berth.moored {
        MooredSide::Port => "port",
        MooredSide::Starboard => "starboard",
    };
    format!(
        "In the berth her bow points to {}, {side} side to; the way out along the aisle is {}.",
        degrees(berth.heading.degrees()),
        degrees(berth.fairway.degrees())
    )
}

fn entrance(entrance: &Entrance) -> Vec<String> {
    let mut lines = vec![format!(
        "{} is passed {} min from the berth, going out and coming in.",
        entrance.name, entrance.minutes_from_berth
    )];
    lines.push(match entrance.open_to {
        Some(open) => format!("Seas from {} run into it.", sector(open.from, open.to)),
        None => "Seas from anywhere run into it.".to_owned(),
    });
    lines.push(match entrance.wave {
        Some(limit) => format!(
            "The sea in it has limits of its own: {}.",
            limit_words(Quantity::WaveHeight, limit)
        ),
        None => "The sea in it is held against the level’s limits.".to_owned(),
    });
    lines.extend(entrance.gate.map(|gate| {
        format!(
            "There is water enough in it from {} h before high water to {} h after.",
            gate.opens_before_h, gate.shuts_after_h
        )
    }));
    lines
}

fn wind_sector(of: &WindSector) -> String {
    let learned = of.learned.as_ref().map_or(String::new(), |learned| {
        format!(
            ", learned from {} logged hours and signed by {}",
            learned.hours, learned.signed_by
        )
    });
    format!(
        "Wind from {}: the mean is taken times {}{learned}. A gust is never lowered.",
        sector(of.from, of.to),
        of.factor
    )
}

fn fetch(fetch: &SeaByFetch) -> String {
    let rows = fetch.table.rows().iter().map(|(from, metres)| {
        let miles = NauticalMiles(metres.0 / METRES_PER_NAUTICAL_MILE);
        format!("{:.2} nm from {}", miles.0, degrees(from.degrees()))
    });
    let depth = match fetch.depth {
        Some(depth) => format!("{} m deep", depth.0),
        None => "deep".to_owned(),
    };
    let alone = if fetch.alone {
        "its sea is what the local wind raises"
    } else {
        "its sea is what the local wind raises or the wave model’s, whichever is larger"
    };
    format!(
        "Sheltered water, {depth}, open for {}: {alone}.",
        rows.collect::<Vec<_>>().join(", ")
    )
}

fn high_waters(high_waters: &[HighWater], zone: Tz) -> Option<String> {
    let words = |high: &HighWater| {
        let at = high.at.with_timezone(&zone).format("%-d %b %Y %H:%M");
        let range = high
            .range
            .map_or("springs".to_owned(), |range| format!("{} m", range.0));
        format!("{at} ({range})")
    };
    let all: Vec<String> = high_waters.iter().map(words).collect();
    (!all.is_empty()).then(|| {
        format!(
            "High waters known, with the range of the tide: {}.",
            all.join(", ")
        )
    })
}

fn stream(stream: &StreamTable) -> Vec<String> {
    let tides = match stream.ranges {
        None => "Every tide is taken for springs.".to_owned(),
        Some((springs, neaps)) => {
            format!("Springs are a range of {} m, neaps of {} m.", springs.0, neaps.0)
        }
    };
    let rows = stream.rows.iter().map(|row| {
        format!(
            "{:+} h: {}, {} kn at springs, {} at neaps",
            row.hour,
            degrees(row.set.degrees()),
            row.springs.0,
            row.neaps.0
        )
    });
    let rows: Vec<String> = rows.collect();
    vec![
        tides,
        format!(
            "The stream sets, by the hour from high water: {}.",
            rows.join("; ")
        ),
    ]
}
