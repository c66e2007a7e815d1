//! Daylight: sunrise, sunset and civil twilight of a sailing day.
//!
//! Owns: which events belong to a day, and what is said where the sun does not rise or set.
//! Must not know: sessions, limits. The sun's position itself is the `solar-positioning` crate's (algorithm of Reda and
//! Andreas, NREL/TP-560-34302).

use crate::quantity::LatLon;
use chrono::{DateTime, NaiveDate, NaiveTime, TimeDelta, TimeZone, Utc};
use serde::{Deserialize, Serialize};
use solar_positioning::{Horizon, Location, RefractionCorrection, SolarEvents, SolarPositions, delta_t};

/// Sunrise, sunset and civil twilight around one noon. An event that does not happen is none.
///
/// All four none and neither flag set: nothing is known (a date or a zone the calculation cannot serve).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct SunTimes {
    /// The sun's upper limb appears (centre at -0.8333 degrees, sea level), in the morning before the day's noon.
    pub sunrise: Option<DateTime<Utc>>,
    /// The sun's upper limb vanishes after the day's noon; in high summer that may be past midnight.
    pub sunset: Option<DateTime<Utc>>,
    /// The sun's centre rises through -6 degrees before the day's noon.
    pub civil_dawn: Option<DateTime<Utc>>,
    /// The sun's centre sinks through -6 degrees after the day's noon.
    pub civil_dusk: Option<DateTime<Utc>>,
    /// The sun neither rises nor sets in the twelve hours either side of noon, and is up: midnight sun.
    pub always_up: bool,
    /// The sun is below the horizon even at noon: polar night.
    pub always_down: bool,
}

/// The sun's events around the noon of a local calendar day.
///
/// The events are those between twelve hours before and twelve hours after the sun's passage through the meridian that lies
/// in the day, not those of the calendar day: where the sun sets past midnight the day's sunset is the one after its noon.
/// Times are good to a minute (refraction at the horizon varies by more than the algorithm's error).
/// Source: events at -0.8333 and -6 degrees, Almanac for Computers 1990 and US Naval Observatory.
pub fn sun_times<Z: TimeZone>(at: LatLon, date: NaiveDate, zone: &Z) -> SunTimes {
    around_noon(at, date, zone).unwrap_or_default()
}

/// Apparent elevation of the sun's centre above the horizon, degrees, with standard refraction, at sea level.
/// None outside the years the algorithm serves (-2000 to 6000).
pub fn sun_elevation(at: LatLon, time: DateTime<Utc>) -> Option<f64> {
    let offset = delta_t::estimate_from_date_like(&time).ok()?;
    let refraction = Some(RefractionCorrection::standard());
    let position = SolarPositions::new()
        .at(&time, location(at), 0.0, offset, refraction)
        .ok()?;
    Some(position.elevation_angle())
}

fn location(at: LatLon) -> Location {
    Location {
        latitude: at.lat,
        longitude: at.lon,
    }
}

fn around_noon<Z: TimeZone>(at: LatLon, date: NaiveDate, zone: &Z) -> Option<SunTimes> {
    let offset = delta_t::estimate_from_date_like(&date).ok()?;
    let half_day = TimeDelta::hours(12);
    let midday = date.and_time(NaiveTime::from_hms_opt(12, 0, 0)?);
    let local_noon = zone.from_local_datetime(&midday).earliest()?.with_timezone(&Utc);
    let events = SolarEvents::new();
    // A solar day may be half a minute longer than 24 hours; the extra hour makes sure that one passage lies inside.
    let last = local_noon + half_day + TimeDelta::hours(1);
    let noon = events
        .next_transit(&(local_noon - half_day), &last, at.lon, offset)
        .ok()??;
    let (before, after) = (noon - half_day, noon + half_day);
    let rise = |horizon| {
        events
            .next_rise(&before, &noon, location(at), offset, horizon)
            .ok()
    };
    let set = |horizon| events.next_set(&noon, &after, location(at), offset, horizon).ok();
    let (sunrise, sunset) = (rise(Horizon::SunriseSunset)?, set(Horizon::SunriseSunset)?);
    let without_event = sunrise.is_none() && sunset.is_none();
    let geometric = SolarPositions::new()
        .at(&noon, location(at), 0.0, offset, None)
        .ok()?
        .elevation_angle();
    let up_at_noon = geometric > Horizon::SunriseSunset.elevation_angle();
    Some(SunTimes {
        sunrise,
        sunset,
        civil_dawn: rise(Horizon::CivilTwilight)?,
        civil_dusk: set(Horizon::CivilTwilight)?,
        always_up: without_event && up_at_noon,
        always_down: without_event && !up_at_noon,
    })
}
