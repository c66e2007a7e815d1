//! Cautions, each with its bounds on both sides, worked by hand (no source unless named: common practice).

use crate::common::{Floors, WIND_AND_SEA, at, blowing, call_one, club, fair, known, missing, outing, wind};
use chrono::TimeDelta;
use club::{Leg, MooredSide};
use conditions::HourConditions;
use forecast::Gap;
use rules::cautions::{CautionView, find_cautions};
use rules::{CautionCode, CautionDetail, CautionFound, Verdict};
use seaway::{Bearing, Celsius, Knots, Metres, NauticalMiles};

fn cautions(
    hour: &dyn Fn(chrono::DateTime<chrono::Utc>) -> HourConditions,
    legs: &[Leg],
) -> Vec<CautionFound> {
    let club = club(Floors::None, WIND_AND_SEA);
    let mut outing = outing(&club);
    outing.legs = legs;
    let verdict: Verdict = call_one(&outing, hour);
    find_cautions(CautionView {
        passages: None,
        outing: &outing,
        hours: &verdict.hours,
        plan: verdict.plan.as_ref(),
    })
}

fn one(found: &[CautionFound], code: CautionCode) -> Option<&CautionFound> {
    found.iter().find(|caution| caution.code == code)
}

#[test]
fn clip_on_holds_from_the_first_to_the_last_lively_hour() {
    // Waves of 1.0 m at 12:00 and 14:00, or a gust of 22 kn.
    let rough = |t| HourConditions {
        wave_height: known(Metres(if t == at(12) || t == at(14) { 1.0 } else { 0.6 })),
        ..fair(t)
    };
    let found = cautions(&rough, &[]);
    let clip_on = one(&found, CautionCode::ClipOn).expect("told");
    assert_eq!((clip_on.from, clip_on.to), (at(12), at(14)));
    let calm = |t| HourConditions {
        wave_height: known(Metres(0.6)),
        ..fair(t)
    };
    assert_eq!(one(&cautions(&calm, &[]), CautionCode::ClipOn), None);
    let gusty = |t| HourConditions {
        gust: known(Knots(22.0)),
        ..calm(t)
    };
    assert!(one(&cautions(&gusty, &[]), CautionCode::ClipOn).is_some());
}

#[test]
fn reef_before_leaving_only_when_the_plan_has_a_reef() {
    assert_eq!(one(&cautions(&fair, &[]), CautionCode::ReefBeforeLeaving), None);
    let found = cautions(&|t| blowing(t, 14.0, 18.0), &[]);
    assert_eq!(
        one(&found, CautionCode::ReefBeforeLeaving).map(|c| c.detail.clone()),
        Some(CautionDetail::Reef { row: 1 })
    );
}

#[test]
fn a_shore_to_leeward_is_told_with_its_distance() {
    // The skerries bear 045, 60 degrees wide: 12 kn from 225 blow straight on to them, from 135 past them.
    let south_west = |t| HourConditions {
        wind: wind(12.0, 225.0),
        ..fair(t)
    };
    let found = cautions(&south_west, &[]);
    let shore = CautionDetail::Shore {
        name: "the skerries".to_owned(),
        distance: NauticalMiles(2.0),
    };
    assert_eq!(
        one(&found, CautionCode::LeeShore).map(|c| c.detail.clone()),
        Some(shore)
    );
    let south_east = |t| HourConditions {
        wind: wind(12.0, 135.0),
        ..fair(t)
    };
    assert_eq!(one(&cautions(&south_east, &[]), CautionCode::LeeShore), None);
    let light = |t| HourConditions {
        wind: wind(11.9, 225.0),
        ..fair(t)
    };
    assert_eq!(one(&cautions(&light, &[]), CautionCode::LeeShore), None);
}

#[test]
fn a_preventer_is_due_from_a_true_wind_angle_of_135_degrees() {
    let leg = |bearing| {
        [Leg {
            bearing: Bearing::new(bearing),
            distance: NauticalMiles(3.0),
        }]
    };
    // Wind from 225: course 090 has it 135 degrees off the bow, course 091 134 degrees, course 045 dead astern.
    let detail =
        |bearing| one(&cautions(&fair, &leg(bearing)), CautionCode::Preventer).map(|c| c.detail.clone());
    assert_eq!(
        detail(90.0),
        Some(CautionDetail::Deep {
            true_wind_angle: Some(135.0),
            keep_off_dead_run: false
        })
    );
    assert_eq!(detail(91.0), None);
    assert_eq!(
        detail(45.0),
        Some(CautionDetail::Deep {
            true_wind_angle: Some(180.0),
            keep_off_dead_run: true
        })
    );
    let any = one(&cautions(&fair, &[]), CautionCode::Preventer).map(|c| c.detail.clone());
    assert_eq!(
        any,
        Some(CautionDetail::Deep {
            true_wind_angle: None,
            keep_off_dead_run: true
        }),
        "no legs: any course"
    );
}

#[test]
fn a_preventer_is_due_at_the_hours_its_leg_may_be_sailed_at() {
    // Fifteen miles at 5 kn are three of the six hours. Wind from 225: course 135 is a beam reach, course 045 a dead run.
    let leg = |bearing| Leg {
        bearing: Bearing::new(bearing),
        distance: NauticalMiles(15.0),
    };
    let told = |legs: [Leg; 2]| {
        let found = cautions(&fair, &legs);
        one(&found, CautionCode::Preventer).map(|found| (found.from, found.to))
    };
    assert_eq!(told([leg(135.0), leg(45.0)]), Some((at(13), at(16))));
    assert_eq!(told([leg(45.0), leg(135.0)]), Some((at(10), at(13))));
    assert_eq!(told([leg(135.0), leg(315.0)]), None);
}

#[test]
fn leaving_and_returning_at_half_past_are_looked_at_themselves() {
    // Out from 10:30 to 15:30: 5 kn across at 10:00, under the policy's 6, and 7 from 10:30 on; waves of 1.0 m until 10:30 and from 15:30.
    let club = club(Floors::None, WIND_AND_SEA);
    let mut outing = outing(&club);
    let half = TimeDelta::minutes(30);
    outing.leaves += half;
    outing.alongside -= half;
    let hour = |t| HourConditions {
        wind: wind(if t < at(10) + half { 5.0 } else { 7.0 }, 270.0),
        wave_height: known(Metres(if t <= at(10) + half || t >= at(15) + half {
            1.0
        } else {
            0.6
        })),
        ..fair(t)
    };
    let verdict = call_one(&outing, &hour);
    let looks = &verdict.hours;
    let found = find_cautions(CautionView {
        passages: None,
        outing: &outing,
        hours: looks,
        plan: verdict.plan.as_ref(),
    });
    let span = |code| one(&found, code).map(|found| (found.from, found.to));
    assert_eq!(
        span(CautionCode::BerthLeaving),
        Some((at(10) + half, at(10) + half))
    );
    assert_eq!(span(CautionCode::ClipOn), Some((at(10) + half, at(15) + half)));
    // In order, each instant once.
    assert!(looks.windows(2).all(|pair| pair[0].at < pair[1].at));
}

#[test]
fn the_berth_tells_on_or_off_and_the_windward_side_both_times() {
    // Heading north, port side to: the pontoon is west. 10 kn from the west blow her off, 10 kn from the east on.
    let turning = |t| HourConditions {
        wind: wind(10.0, if t <= at(12) { 270.0 } else { 90.0 }),
        ..fair(t)
    };
    let found = cautions(&turning, &[]);
    let detail = |code| one(&found, code).map(|c| c.detail.clone());
    let Some(CautionDetail::Berth {
        towards_pontoon,
        windward_side,
    }) = detail(CautionCode::BerthLeaving)
    else {
        panic!("leaving is told")
    };
    assert!((towards_pontoon.0 + 10.0).abs() < 1e-9);
    // The fairway runs out to the south: west is on the starboard hand.
    assert_eq!(windward_side, Some(MooredSide::Starboard));
    let Some(CautionDetail::Berth {
        towards_pontoon,
        windward_side,
    }) = detail(CautionCode::BerthReturning)
    else {
        panic!("returning is told")
    };
    assert!((towards_pontoon.0 - 10.0).abs() < 1e-9);
    assert_eq!(windward_side, Some(MooredSide::Port));
    let along = |t| HourConditions {
        wind: wind(10.0, 0.0),
        ..fair(t)
    };
    assert_eq!(one(&cautions(&along, &[]), CautionCode::BerthLeaving), None);
}

#[test]
fn dusk_is_told_within_an_hour_of_sunset_and_after_it() {
    let club = club(Floors::None, WIND_AND_SEA);
    let told = |sets: i64| {
        let mut outing = outing(&club);
        outing.sun.sets = Some(outing.alongside + TimeDelta::minutes(sets));
        let verdict = call_one(&outing, &fair);
        let found = find_cautions(CautionView {
            passages: None,
            outing: &outing,
            hours: &verdict.hours,
            plan: verdict.plan.as_ref(),
        });
        one(&found, CautionCode::Dusk).map(|c| (c.from, c.to))
    };
    assert_eq!(told(60), None);
    assert_eq!(told(30), Some((at(15) + TimeDelta::minutes(30), at(16))));
    assert_eq!(told(-30), Some((at(14) + TimeDelta::minutes(30), at(16))));
}

// Source of the bounds: 3-rules of the design (common practice, no source); each side of a bound, worked by hand.
#[test]
fn thunder_needs_unstable_air_and_rain_together() {
    let hour = |cape: f64, rain: f64| {
        move |t| HourConditions {
            cape_j_per_kg: known(if t == at(13) { cape } else { 0.0 }),
            rain_mm_per_h: known(rain),
            ..fair(t)
        }
    };
    let thunder = |cape, rain| one(&cautions(&hour(cape, rain), &[]), CautionCode::Thunder).cloned();
    assert_eq!(thunder(499.0, 5.0), None);
    assert_eq!(thunder(900.0, 0.9), None);
    let found = thunder(900.0, 1.0).expect("thunder");
    assert_eq!((found.from, found.to), (at(13), at(13)));
    assert_eq!(found.detail, CautionDetail::Thunder { cape_j_per_kg: 900.0 });
    let unknown = |t| HourConditions {
        rain_mm_per_h: missing(Gap::NotInFeed),
        ..hour(900.0, 5.0)(t)
    };
    assert_eq!(one(&cautions(&unknown, &[]), CautionCode::Thunder), None);
}

// Source: UK Met Office shipping forecast terms (poor: below 2 nautical miles); glossary of the American Meteorological
// Society (fog is rare with air and dew point more than 2.5 degrees apart); rows G-fog_thunder-04 and -05.
#[test]
fn poor_visibility_is_warned_of_and_humid_air_where_it_is_not_known() {
    let seen = |metres: f64| {
        move |t| HourConditions {
            visibility: known(Metres(metres)),
            ..fair(t)
        }
    };
    let fog = |hour: &dyn Fn(chrono::DateTime<chrono::Utc>) -> HourConditions| {
        one(&cautions(hour, &[]), CautionCode::Fog).cloned()
    };
    assert_eq!(fog(&seen(3704.0)), None);
    let found = fog(&seen(900.0)).expect("fog");
    assert_eq!(
        found.detail,
        CautionDetail::Fog {
            visibility: Some(Metres(900.0))
        }
    );
    let humid = |spread: f64| {
        move |t| HourConditions {
            visibility: missing(Gap::NotInFeed),
            air: known(Celsius(12.0)),
            dew_point: known(Celsius(12.0 - spread)),
            ..fair(t)
        }
    };
    assert_eq!(fog(&humid(2.6)), None);
    let found = fog(&humid(2.5)).expect("fog may form");
    assert_eq!(found.detail, CautionDetail::Fog { visibility: None });
}

// Source of the chill: row G-cold-06, 10 degrees and 30 km/h (16.2 kn) feel like 6.6; 5 degrees and 20 km/h (10.8 kn) like 1.
// The bounds: common practice, no source.
#[test]
fn cold_wind_and_cold_water_are_warned_of() {
    let hour = |air: f64, kn: f64, water: f64| {
        move |t| HourConditions {
            air: known(Celsius(air)),
            water: known(Celsius(water)),
            ..blowing(t, kn, kn + 2.0)
        }
    };
    let cold = |air, kn, water| one(&cautions(&hour(air, kn, water), &[]), CautionCode::Cold).cloned();
    assert_eq!(cold(10.0, 16.2, 12.1), None);
    let found = cold(5.0, 10.8, 14.0).expect("cold").detail;
    let CautionDetail::Cold {
        feels_like: Some(felt),
        water: None,
    } = found
    else {
        panic!("{found:?}");
    };
    assert!((felt.0 - 1.0).abs() < 0.5, "{felt:?}");
    let found = cold(18.0, 8.0, 12.0).expect("cold water").detail;
    assert_eq!(
        found,
        CautionDetail::Cold {
            feels_like: None,
            water: Some(Celsius(12.0))
        }
    );
}
