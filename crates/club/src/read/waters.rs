//! Reads what a venue's water is like: sectors, fetch, the sea breeze.
//!
//! Owns: `[[venues.wind_sectors]]`, `[[venues.limit_sectors]]`, `[venues.fetch]`, `[venues.sea_breeze]`. Must not know: the
//! tide, boats, sessions.

use super::venues::{PointPlace, degrees, read_place};
use super::{Table, entries};
use crate::model::{Learned, WindSector};
use crate::policy::Policy;
use crate::waters::{LimitSector, SeaBreeze, SeaByFetch, Sector};
use chrono_tz::Tz;
use seaway::wave_growth::FetchTable;
use seaway::{DirectionFrom, Metres, NauticalMiles};

/// Directions of one fetch table at most: every five degrees.
const DIRECTIONS_AT_MOST: usize = 72;
/// Metres in a nautical mile, exactly.
const METRES_PER_NAUTICAL_MILE: f64 = 1852.0;
/// Directions from one clockwise to another.
pub(crate) fn read_sector(table: &mut Table<'_>) -> Option<Sector> {
    let from = degrees(
        table,
        "from_deg",
        "the sector's first direction the wind or the sea comes from, degrees true",
    );
    let to_value = table.required("to_deg", "its last direction, clockwise, degrees true");
    let to = to_value.as_ref().and_then(|value| value.number(0.0..=360.0));
    let sector = Sector {
        from: DirectionFrom::new(from?),
        to: DirectionFrom::new(to?),
    };
    // From north round to north would be read as north alone.
    if sector.from == sector.to {
        if let Some(value) = to_value {
            value.mistake(
                "another direction than from_deg; a whole circle is two sectors, 0 to 180 and 180 to 360",
            );
        }
        return None;
    }
    Some(sector)
}

/// A factor on the mean wind.
pub(crate) fn read_wind_sector(table: &mut Table<'_>, policy: &Policy) -> Option<WindSector> {
    let sector = read_sector(table);
    let factor_value = table.required("factor", "the factor on the mean wind");
    let factor = factor_value.as_ref().and_then(|value| value.number(0.5..=1.5));
    let learned = table.optional("learned");
    let least = learned.as_ref().map_or(0.0, |_| policy.learned_at_least);
    if let (Some(value), Some(factor)) = (factor_value, factor)
        && factor < least
    {
        value.mistake(format!("at least {least}: a learned factor is never below it"));
    }
    let learned = match learned {
        None => Some(None),
        Some(value) => value.table().and_then(|mut inner| {
            let learned = read_learned(&mut inner, factor, policy.learned_from_hours);
            inner.finish();
            learned.map(Some)
        }),
    };
    let sector = sector?;
    Some(WindSector {
        from: sector.from,
        to: sector.to,
        factor: factor?,
        learned: learned?,
    })
}

/// What a learned factor rests on; one that takes wind away needs hours enough.
fn read_learned(table: &mut Table<'_>, factor: Option<f64>, from_hours: f64) -> Option<Learned> {
    let hours_value = table.required("hours", "hours logged above 12 kn");
    let hours = hours_value.as_ref().and_then(|value| value.count(1_000_000));
    let signed_by = table
        .required(
            "signed_by",
            "who of the club signed it, such as \"the principal\"",
        )
        .and_then(|value| value.text());
    if let (Some(hours), Some(value)) = (hours, hours_value)
        && f64::from(hours) < from_hours
        && factor.is_some_and(|factor| factor < 1.0)
    {
        value.mistake(format!(
            "at least {from_hours} hours logged above 12 kn: a learned factor below 1 takes wind away"
        ));
    }
    Some(Learned {
        hours: hours?,
        signed_by: signed_by?,
    })
}

/// A factor on the level's limits.
pub(crate) fn read_limit_sector(table: &mut Table<'_>) -> Option<LimitSector> {
    let sector = read_sector(table);
    let factor = table
        .required("factor", "the factor on the level's limits of wind and sea")
        .and_then(|value| value.number(0.5..=1.0));
    Some(LimitSector {
        sector: sector?,
        factor: factor?,
    })
}

/// Open water by direction.
pub(crate) fn read_fetch(table: &mut Table<'_>) -> Option<SeaByFetch> {
    let directions = table.required(
        "directions",
        "open water by direction, such as [{ from_deg = 0, distance_nm = 2.5 }]",
    );
    let mut seen: Vec<Option<DirectionFrom>> = Vec::new();
    let rows = entries(directions, DIRECTIONS_AT_MOST, |_, row| {
        read_direction(row, &mut seen)
    });
    let depth = match table.optional("depth_m") {
        None => Some(None),
        Some(value) => value.number(0.5..=10_000.0).map(|depth| Some(Metres(depth))),
    };
    let alone = table.optional("alone").map_or(Some(false), |value| value.truth());
    Some(SeaByFetch {
        table: FetchTable::new(rows?)?,
        depth: depth?,
        alone: alone?,
    })
}

fn read_direction(
    table: &mut Table<'_>,
    seen: &mut Vec<Option<DirectionFrom>>,
) -> Option<(DirectionFrom, Metres)> {
    let from_value = table.required("from_deg", "a direction the wind comes from, degrees true");
    let from = from_value
        .as_ref()
        .and_then(|value| value.number(0.0..=360.0))
        .map(DirectionFrom::new);
    let distance = table
        .required("distance_nm", "open water in that direction")
        .and_then(|value| value.number(0.0..=1000.0));
    let first = seen.iter().position(|other| from.is_some() && *other == from);
    seen.push(from);
    if let (Some(first), Some(value)) = (first, from_value) {
        value.mistake(format!(
            "a direction of its own (directions[{first}] has this one)"
        ));
        return None;
    }
    Some((
        from?,
        Metres(NauticalMiles(distance?).0 * METRES_PER_NAUTICAL_MILE),
    ))
}

/// Where a sea breeze comes from; the land's place is noted in `places`, for its warmth is forecast.
pub(crate) fn read_sea_breeze(
    table: &mut Table<'_>,
    zone: Option<Tz>,
    places: &mut Vec<PointPlace>,
) -> Option<SeaBreeze> {
    let land = table
        .required(
            "land",
            "the land whose warmth drives it, such as { lat = 43.6, lon = -15.2 }",
        )
        .and_then(|value| value.table())
        .and_then(|mut inner| {
            let land = read_place(&mut inner, places);
            inner.finish();
            land
        });
    let onshore = degrees(
        table,
        "onshore_from_deg",
        "where the sea breeze comes from, degrees true",
    );
    Some(SeaBreeze {
        zone: zone?,
        land: land?,
        onshore_from: DirectionFrom::new(onshore?),
    })
}
