//! How legs lie to the wind, what is sailed in tacks, and which lessons hours suit (no source: common practice).

use crate::common::{Floors, WIND_AND_SEA, at, blowing, call_one, club, fair, known, missing, outing, wind};
use chrono::{DateTime, TimeDelta, Utc};

use club::{Club, Leg, Lesson};
use conditions::HourConditions;
use forecast::Gap;
use proptest::prelude::*;
use rules::Call;
use rules::legs::{LegSailed, along, tacked};
use rules::lessons::lessons;
use seaway::point_of_sail::PointOfSail;
use seaway::{Bearing, Knots, Metres, NauticalMiles};

fn leg(bearing: f64, distance: f64) -> Leg {
    Leg {
        bearing: Bearing::new(bearing),
        distance: NauticalMiles(distance),
    }
}

fn sailed(legs: &[Leg], hour: &dyn Fn(DateTime<Utc>) -> HourConditions) -> Vec<LegSailed> {
    let club = club(Floors::None, WIND_AND_SEA);
    let mut outing = outing(&club);
    outing.legs = legs;
    along(&outing, &call_one(&outing, hour).hours)
}

fn from_north(t: DateTime<Utc>) -> HourConditions {
    HourConditions {
        wind: wind(12.0, 0.0),
        ..fair(t)
    }
}

#[test]
fn nobody_sails_closer_than_forty_five_degrees_and_legs_are_named_by_their_angle() {
    let point = |bearing: f64| {
        sailed(&[leg(bearing, 2.0)], &from_north)[0]
            .lie
            .expect("a wind")
            .point_of_sail
    };
    for (bearing, expected) in [
        (0.0, PointOfSail::NoGoZone),
        (44.9, PointOfSail::NoGoZone),
        (315.1, PointOfSail::NoGoZone),
        (45.0, PointOfSail::CloseHauled),
        (315.0, PointOfSail::CloseHauled),
        (70.0, PointOfSail::CloseReach),
        (90.0, PointOfSail::BeamReach),
        (135.0, PointOfSail::BroadReach),
        (180.0, PointOfSail::Running),
    ] {
        assert_eq!(point(bearing), expected, "course {bearing}, wind from north");
    }
}

#[test]
fn a_chop_widens_the_angle_and_lengthens_the_beat() {
    let beat = |wave: f64, steepness: f64| {
        let hour = move |t: DateTime<Utc>| HourConditions {
            wave_height: known(Metres(wave)),
            steepness: known(steepness),
            ..from_north(t)
        };
        let lie = sailed(&[leg(0.0, 1.0)], &hour)[0].lie.expect("a wind");
        (lie.closest_deg, lie.tacked.expect("too close to sail").0)
    };
    // Flat water 1.4 times, chop 1.6 to 1.7 times: the facts of common practice.
    for flat in [beat(0.5, 0.039), beat(0.49, 0.06)] {
        assert_eq!(flat.0, 45.0);
        assert!((flat.1 - 1.414).abs() < 0.001, "{flat:?}");
    }
    let chop = beat(0.5, 0.04);
    assert_eq!(chop.0, 52.0);
    assert!((1.6..1.7).contains(&chop.1), "{chop:?}");
    let unknown = |t: DateTime<Utc>| HourConditions {
        steepness: missing(Gap::NotInFeed),
        ..from_north(t)
    };
    assert_eq!(
        sailed(&[leg(0.0, 1.0)], &unknown)[0]
            .lie
            .expect("a wind")
            .closest_deg,
        45.0
    );
}

proptest! {
    // Source: plane geometry. Two tacks at the boat's angle either side of the wind that add up to the leg as vectors, found by Cramer's
    // rule, are together as long as what is told.
    #[test]
    fn two_tacks_add_up_to_the_leg(distance in 0.1f64..30.0, closest in 30.0f64..70.0, part in 0.0f64..0.999) {
        let off = closest * part;
        let unit = |degrees: f64| (degrees.to_radians().sin(), degrees.to_radians().cos());
        let ((sx, sy), (px, py)) = (unit(closest), unit(-closest));
        let (x, y) = (distance * unit(off).0, distance * unit(off).1);
        let determinant = sx * py - px * sy;
        let (p, q) = ((x * py - px * y) / determinant, (sx * y - x * sy) / determinant);
        prop_assert!(p >= -1e-9 && q >= -1e-9, "both tacks are sailed forwards");
        let told = tacked(NauticalMiles(distance), off, closest).expect("too close to the wind").0;
        prop_assert!((told - (p + q)).abs() < 1e-9 * distance.max(1.0), "{told} and {}", p + q);
        prop_assert!(told >= distance - 1e-9);
        prop_assert_eq!(tacked(NauticalMiles(distance), closest, closest), None);
    }
}

#[test]
fn legs_follow_each_other_at_five_knots_each_in_the_wind_of_its_hour() {
    // 7.5 nm south take 90 min. The wind is north until 11:00 and west from 12:00: the second leg begins at 11:30, in the wind of 11:00.
    // North then is dead to windward: 3 nm are 4.24 in tacks, 50.9 min, told to the minute.
    let hour = |t: DateTime<Utc>| HourConditions {
        wind: wind(12.0, if t < at(12) { 0.0 } else { 270.0 }),
        ..fair(t)
    };
    let legs = sailed(&[leg(180.0, 7.5), leg(0.0, 3.0), leg(90.0, 1.0)], &hour);
    let half = TimeDelta::minutes(30);
    assert_eq!((legs[0].from, legs[1].from), (at(10), at(11) + half));
    assert_eq!(legs[2].from, legs[1].from + TimeDelta::minutes(51));
    let points: Vec<_> = legs
        .iter()
        .map(|leg| leg.lie.expect("a wind").point_of_sail)
        .collect();
    assert_eq!(
        points,
        [PointOfSail::Running, PointOfSail::NoGoZone, PointOfSail::Running]
    );
    // The last ends with the outing at the latest.
    assert_eq!(legs[2].latest_end, at(16));
    let calm = |t: DateTime<Utc>| HourConditions {
        wind: missing(Gap::NotThere),
        ..fair(t)
    };
    let unknown = sailed(&[leg(0.0, 5.0), leg(0.0, 5.0)], &calm);
    assert_eq!((unknown[0].lie, unknown[1].from), (None, at(11)));
}

/// A lesson's name, bands of wind and sea, and whether it is for light air.
type Entry<'a> = (&'a str, Option<(f64, f64)>, Option<(f64, f64)>, bool);

fn taught(entries: &[Entry<'_>]) -> Club {
    let mut club = club(Floors::None, WIND_AND_SEA);
    club.levels[0].syllabus = entries
        .iter()
        .map(|&(name, wind, wave, light_air)| Lesson {
            name: name.to_owned(),
            wind: wind.map(|(low, high)| (Knots(low), Knots(high))),
            wave: wave.map(|(low, high)| (Metres(low), Metres(high))),
            light_air,
        })
        .collect();
    club
}

/// Names with their stretches, hours of the day.
fn fits(club: &Club, hour: &dyn Fn(DateTime<Utc>) -> HourConditions) -> Vec<(String, Vec<(i64, i64)>)> {
    let outing = outing(club);
    let verdict = call_one(&outing, hour);
    let hours = |t: DateTime<Utc>| (t - at(0)).num_hours();
    lessons(&outing, &verdict.hours, verdict.call, verdict.light)
        .into_iter()
        .map(|fit| {
            let spans = fit.spans.iter().map(|&(from, to)| (hours(from), hours(to)));
            (fit.lesson.name.clone(), spans.collect())
        })
        .collect()
}

#[test]
fn a_lesson_suits_the_hours_whose_wind_and_sea_lie_in_its_bands() {
    let club = taught(&[
        ("reefing", Some((12.0, 14.0)), None, false),
        ("gybing", Some((6.0, 12.0)), Some((0.0, 0.8)), false),
        ("knots", None, None, false),
        ("heaving to", Some((18.0, 22.0)), None, false),
    ]);
    // 12 kn is in both bands; 12.1 in the first alone; the sea is 0.8 m but at 14:00.
    let hour = |t: DateTime<Utc>| HourConditions {
        wave_height: known(Metres(if t == at(14) { 0.81 } else { 0.8 })),
        ..blowing(t, if t < at(12) { 12.1 } else { 12.0 }, 14.5)
    };
    assert_eq!(
        fits(&club, &hour),
        [
            ("reefing".to_owned(), vec![(10, 16)]),
            ("gybing".to_owned(), vec![(12, 13), (15, 16)]),
            ("knots".to_owned(), vec![(10, 16)]),
        ]
    );
}

#[test]
fn a_value_that_is_not_known_suits_no_lesson_that_asks_for_it() {
    let mut club = taught(&[
        ("gybing", Some((6.0, 12.0)), None, false),
        ("landing a dinghy", Some((6.0, 12.0)), Some((0.0, 1.0)), false),
    ]);
    // The level does not limit the sea, so that the hours can be called without it.
    club.levels[0].limits.remove(&club::Quantity::WaveHeight);
    let hour = |t: DateTime<Utc>| HourConditions {
        wave_height: missing(Gap::NotInFeed),
        ..fair(t)
    };
    assert_eq!(fits(&club, &hour), [("gybing".to_owned(), vec![(10, 16)])]);
}

#[test]
fn lessons_for_light_air_wait_for_it() {
    let club = taught(&[
        ("whistling for wind", None, None, true),
        ("drill", None, None, false),
    ]);
    let named = |mean: f64| -> Vec<String> {
        let found = fits(&club, &|t| blowing(t, mean, mean + 2.0));
        found.into_iter().map(|(name, _)| name).collect()
    };
    // The level's light bound is 6 kn: below it there is too little wind to sail.
    assert_eq!(named(6.0), ["drill"]);
    assert_eq!(named(5.9), ["whistling for wind", "drill"]);
    // A session that begins light: those hours alone.
    let found = fits(&club, &|t| blowing(t, if t < at(12) { 4.0 } else { 9.0 }, 11.0));
    assert_eq!(found[0], ("whistling for wind".to_owned(), vec![(10, 11)]));
}

#[test]
fn a_session_that_does_not_leave_has_no_lessons_and_no_hour_past_a_stop_has() {
    let club = taught(&[("drill", None, None, false)]);
    assert_eq!(fits(&club, &|t| blowing(t, 21.0, 24.0)), []);
    let unknown = |t: DateTime<Utc>| HourConditions {
        wind: missing(Gap::NotThere),
        ..fair(t)
    };
    assert_eq!(fits(&club, &unknown), []);
    let outing = outing(&club);
    let verdict = call_one(&outing, &|t| {
        blowing(t, if t == at(13) { 21.0 } else { 10.0 }, 24.0)
    });
    let hours = |call| lessons(&outing, &verdict.hours, call, false);
    assert!(hours(Call::NoGo).is_empty());
    assert_eq!(
        hours(Call::Marginal)[0].spans,
        [(at(10), at(12)), (at(14), at(16))]
    );
}
