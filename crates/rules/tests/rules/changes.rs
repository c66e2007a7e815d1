//! Cautions of what changes on the way: stream, entrance, shores, a rising or turning wind, the way home. Bounds on both sides, worked
//! by hand (no source: common practice).

use crate::common::{Floors, WIND_AND_SEA, at, blowing, call_one, club, fair, known, missing, outing, wind};
use chrono::{DateTime, TimeDelta, Utc};

use club::{Club, Entrance, Leg, Sector};
use conditions::{HourConditions, Known};
use forecast::Gap;
use rules::cautions::{CautionView, Rise, Shift, find_cautions};
use rules::{CautionCode, CautionDetail, CautionFound, Outing};
use seaway::{Bearing, DirectionFrom, Knots, Metres, NauticalMiles, Wind};

type Hour<'a> = &'a dyn Fn(DateTime<Utc>) -> HourConditions;

/// The cautions of a code; the first level's mean and gust have their cautions at 15 and 20 kn.
fn told(outing: &Outing<'_>, hour: Hour<'_>, code: CautionCode) -> Vec<CautionFound> {
    let verdict = call_one(outing, hour);
    let view = CautionView {
        outing,
        hours: &verdict.hours,
        passages: verdict.passages.as_ref(),
        plan: verdict.plan.as_ref(),
    };
    let mut found = find_cautions(view);
    found.retain(|caution| caution.code == code);
    found
}

fn plain() -> Club {
    club(Floors::None, WIND_AND_SEA)
}

/// A fair hour of so much wind with so much stream against it.
fn on_stream(time: DateTime<Utc>, mean: f64, against: f64, breaking: bool) -> HourConditions {
    let mut hour = blowing(time, mean, mean + 3.0);
    if let Ok(reading) = &mut hour.wind {
        reading.notes.opposing_stream = Some(Knots(against));
    }
    if let Ok(reading) = &mut hour.wave_height {
        reading.notes.breaking = breaking;
    }
    hour
}

#[test]
fn wind_against_stream_needs_a_knot_of_stream_and_ten_of_wind() {
    let club = plain();
    let told = |mean: f64, against: f64, breaking: bool| {
        let outing = outing(&club);
        let flood = move |t: DateTime<Utc>| {
            let against = if (at(12)..=at(14)).contains(&t) {
                against
            } else {
                0.2
            };
            on_stream(t, mean, against, breaking)
        };
        told(&outing, &flood, CautionCode::WindAgainstStream).pop()
    };
    assert_eq!(told(10.0, 0.9, false), None);
    assert_eq!(told(9.9, 1.0, false), None);
    let found = told(10.0, 1.0, false).expect("told");
    assert_eq!((found.from, found.to), (at(12), at(14)));
    let detail = |strongest, breaking| CautionDetail::AgainstStream {
        strongest: Knots(strongest),
        breaking,
    };
    assert_eq!(found.detail, detail(1.0, false));
    assert_eq!(told(18.0, 2.5, true).expect("told").detail, detail(2.5, true));
}

#[test]
fn a_stream_against_the_wind_before_leaving_or_after_the_return_is_none_of_hers() {
    let club = plain();
    let outing = outing(&club);
    let ashore = |t: DateTime<Utc>| {
        let against = if t < at(10) || t > at(16) { 2.0 } else { 0.0 };
        on_stream(t, 15.0, against, false)
    };
    assert_eq!(told(&outing, &ashore, CautionCode::WindAgainstStream), []);
}

/// With an entrance an hour from the berth, passed at 11:00 and 15:00, open to seas from south to west.
fn with_entrance(open_to: Option<Sector>) -> Club {
    let mut club = plain();
    club.venues[0].entrance = Some(Entrance {
        name: "the Narrows".to_owned(),
        minutes_from_berth: 60.0,
        open_to,
        wave: None,
        gate: None,
    });
    club
}

fn south_to_west() -> Option<Sector> {
    Some(Sector {
        from: DirectionFrom::new(180.0),
        to: DirectionFrom::new(270.0),
    })
}

/// The sea in the entrance as told, leaving and returning.
fn seas(club: &Club, hour: Hour<'_>) -> [Option<Option<Metres>>; 2] {
    [CautionCode::EntranceLeaving, CautionCode::EntranceReturning].map(|code| {
        told(&outing(club), hour, code)
            .pop()
            .map(|found| match found.detail {
                CautionDetail::Entrance { sea, .. } => sea,
                other => panic!("{other:?}"),
            })
    })
}

#[test]
fn a_sea_of_a_metre_into_the_entrance_is_told_at_the_passage_it_runs_at() {
    let club = with_entrance(south_to_west());
    // Passed at 11:00 and 15:00: the sea is up at 15:00 alone.
    let rising = |height: f64, from: Known<DirectionFrom>| {
        move |t: DateTime<Utc>| HourConditions {
            wave_height: known(Metres(if t == at(15) { height } else { 0.5 })),
            wave_from: from.clone(),
            ..fair(t)
        }
    };
    let from = |degrees| known(DirectionFrom::new(degrees));
    assert_eq!(seas(&club, &rising(0.99, from(225.0))), [None, None]);
    let told = [None, Some(Some(Metres(1.0)))];
    assert_eq!(seas(&club, &rising(1.0, from(225.0))), told);
    // The sector's ends belong to it; a degree past them the sea runs by.
    assert_eq!(seas(&club, &rising(1.0, from(180.0))), told);
    assert_eq!(seas(&club, &rising(1.0, from(271.0))), [None, None]);
    assert_eq!(seas(&club, &rising(1.0, missing(Gap::NotInFeed))), told);
    // No sector: every sea counts. No entrance: none.
    let open = with_entrance(None);
    assert_eq!(seas(&open, &rising(1.0, from(20.0))), told);
    assert_eq!(seas(&plain(), &rising(3.0, from(225.0))), [None, None]);
}

#[test]
fn wind_against_stream_in_the_entrance_counts_from_wherever_it_blows() {
    let club = with_entrance(south_to_west());
    let outing = outing(&club);
    let detail = |against: f64, mean: f64, breaking: bool| {
        let ebb = move |t: DateTime<Utc>| {
            let mut hour = on_stream(
                t,
                mean,
                if t == at(11) { against } else { 0.0 },
                breaking && t == at(11),
            );
            // Off the land: from north-east.
            if let Ok(reading) = &mut hour.wind {
                reading.value.from = DirectionFrom::new(45.0);
            }
            hour
        };
        assert_eq!(told(&outing, &ebb, CautionCode::EntranceReturning), []);
        let found = told(&outing, &ebb, CautionCode::EntranceLeaving).pop()?;
        assert_eq!((found.from, found.to), (at(11), at(11)));
        Some(found.detail)
    };
    let entrance = |against: Option<f64>, breaking| CautionDetail::Entrance {
        name: "the Narrows".to_owned(),
        sea: None,
        against: against.map(Knots),
        breaking,
    };
    assert_eq!(detail(0.9, 12.0, false), None);
    assert_eq!(detail(1.5, 9.9, false), None);
    assert_eq!(detail(1.0, 10.0, false), Some(entrance(Some(1.0), false)));
    assert_eq!(detail(0.9, 12.0, true), Some(entrance(None, true)));
}

// The skerries bear 045, 60 degrees wide, 2 nm: winds from 195 to 255 blow on to them.
#[test]
fn a_shore_that_comes_to_leeward_on_the_way_is_told_from_the_hour_it_does() {
    let club = plain();
    let turning = |before: f64, after: f64, speed: f64| {
        let outing = outing(&club);
        let hour = move |t: DateTime<Utc>| HourConditions {
            wind: wind(speed, if t < at(13) { before } else { after }),
            ..fair(t)
        };
        let mut found = told(&outing, &hour, CautionCode::OnshoreShift);
        found.pop().map(|found| (found.from, found.to))
    };
    assert_eq!(turning(150.0, 195.0, 12.0), Some((at(13), at(16))));
    assert_eq!(turning(150.0, 194.0, 12.0), None, "past its end");
    assert_eq!(turning(150.0, 225.0, 11.9), None, "too little wind");
    assert_eq!(turning(200.0, 225.0, 14.0), None, "to leeward from the start");
    let mut far = plain();
    far.venues[0].shores[0].distance = NauticalMiles(3.1);
    let shift = |t: DateTime<Utc>| HourConditions {
        wind: wind(14.0, if t < at(13) { 150.0 } else { 225.0 }),
        ..fair(t)
    };
    assert_eq!(told(&outing(&far), &shift, CautionCode::OnshoreShift), []);
    let found = told(&outing(&club), &shift, CautionCode::OnshoreShift);
    let detail = CautionDetail::TurnsOnshore {
        name: "the skerries".to_owned(),
        distance: NauticalMiles(2.0),
    };
    assert_eq!(
        found.into_iter().map(|found| found.detail).collect::<Vec<_>>(),
        [detail]
    );
}

/// What is told of a wind by the hour from 10:00 on; the last one stays.
fn building(winds: &[(f64, f64)]) -> Option<CautionFound> {
    let club = plain();
    let outing = outing(&club);
    let hour = |t: DateTime<Utc>| {
        let index = usize::try_from((t - at(10)).num_hours()).unwrap_or(0);
        let (speed, from) = winds[index.min(winds.len() - 1)];
        HourConditions {
            wind: wind(speed, from),
            gust: known(Knots(speed + 2.0)),
            ..fair(t)
        }
    };
    told(&outing, &hour, CautionCode::Building).pop()
}

fn steady_from(speeds: &[f64]) -> Vec<(f64, f64)> {
    speeds.iter().map(|&speed| (speed, 225.0)).collect()
}

/// Hours it holds for, the rise, the signed shift and when to be back by.
type Told = ((i64, i64), Option<(f64, i64)>, Option<(f64, i64)>, Option<i64>);

fn told_of(winds: &[(f64, f64)]) -> Option<Told> {
    let found = building(winds)?;
    let hours = |t: DateTime<Utc>| (t - at(0)).num_hours();
    let CautionDetail::Building {
        rise, shift, back_by, ..
    } = found.detail
    else {
        panic!("{found:?}")
    };
    Some((
        (hours(found.from), hours(found.to)),
        rise.map(|Rise { to, at }| (to.0, hours(at))),
        shift.map(|Shift { degrees, at, .. }| (degrees, hours(at))),
        back_by.map(hours),
    ))
}

#[test]
fn a_rise_of_four_knots_is_building_and_says_when_to_be_back() {
    // 10 to 13.9 is none; 14 at 14:00 is, and is complete then: back by 13:00. The overrun's hour is the last that counts.
    assert_eq!(told_of(&steady_from(&[10.0, 10.0, 10.0, 10.0, 13.9])), None);
    assert_eq!(
        told_of(&steady_from(&[10.0, 10.0, 10.0, 10.0, 14.0])),
        Some(((14, 17), Some((14.0, 14)), None, Some(13)))
    );
    // 12, 17 by 16:00: the level's caution of 15 kn is first reached at 14:00, so back by 13:00.
    assert_eq!(
        told_of(&steady_from(&[12.0, 12.0, 12.5, 13.0, 15.0, 16.0, 17.0])),
        Some(((15, 17), Some((17.0, 16)), None, Some(13)))
    );
    // In the hour of overrun alone: back on time.
    assert_eq!(
        told_of(&steady_from(&[10.0, 10.0, 10.0, 10.0, 10.0, 10.0, 10.0, 14.0])),
        Some(((17, 17), Some((14.0, 17)), None, Some(16)))
    );
    // Two hours after being alongside is none of hers.
    assert_eq!(
        told_of(&steady_from(&[
            10.0, 10.0, 10.0, 10.0, 10.0, 10.0, 10.0, 10.0, 20.0
        ])),
        None
    );
    // Past the caution from the start, or risen within the first hour: nothing to be back by.
    assert_eq!(
        told_of(&steady_from(&[15.0, 19.0])),
        Some(((11, 17), Some((19.0, 11)), None, None))
    );
    // A rise that stays below a wind to sail by (6 kn).
    assert_eq!(told_of(&steady_from(&[1.0, 5.9])), None);
}

#[test]
fn a_gust_past_the_caution_is_what_to_be_back_before() {
    // Mean 10 to 14 at 15:00, but gusts reach 20, the caution, at 13:00.
    let club = plain();
    let outing = outing(&club);
    let gusty = |t: DateTime<Utc>| {
        let mean = if t >= at(15) { 14.0 } else { 10.0 };
        blowing(t, mean, if t >= at(13) { 20.0 } else { 13.0 })
    };
    let found = told(&outing, &gusty, CautionCode::Building).pop().expect("told");
    let CautionDetail::Building { back_by, leaving, .. } = found.detail else {
        panic!("{found:?}")
    };
    assert_eq!(back_by, Some(at(12)));
    assert_eq!(
        leaving,
        Wind {
            speed: Knots(10.0),
            from: DirectionFrom::new(225.0)
        }
    );
}

#[test]
fn a_turn_of_forty_five_degrees_is_told_with_its_sign() {
    let turned = |to: f64| told_of(&[(10.0, 350.0), (10.0, 350.0), (10.0, 350.0), (10.0, to)]);
    // From 350 clockwise through north to 034 is 44 degrees, to 035 45: it veers. To 305 it backs by 45.
    assert_eq!(turned(34.0), None);
    assert_eq!(turned(35.0), Some(((13, 17), None, Some((45.0, 13)), Some(12))));
    assert_eq!(turned(305.0), Some(((13, 17), None, Some((-45.0, 13)), Some(12))));
    // Winds below 6 kn have no direction to turn from or to.
    let light = |first: f64, second: f64| told_of(&[(first, 180.0), (second, 300.0)]);
    assert_eq!(light(5.9, 7.0), None);
    assert_eq!(light(7.0, 5.9), None);
    assert!(light(6.0, 6.0).is_some());
}

#[test]
fn without_the_wind_on_leaving_nothing_builds() {
    let club = plain();
    let hour = |t: DateTime<Utc>| HourConditions {
        wind: if t <= at(10) {
            missing(Gap::NotThere)
        } else {
            wind((t - at(4)).num_hours() as f64, 225.0)
        },
        ..fair(t)
    };
    assert_eq!(told(&outing(&club), &hour, CautionCode::Building), []);
}

#[test]
fn a_wind_is_looked_at_from_the_hour_of_leaving_at_half_past() {
    // Leaving 10:30: the hour of leaving is 10:00 with its 10 kn; 14 from 13:00 on.
    let club = plain();
    let mut outing = outing(&club);
    outing.leaves += TimeDelta::minutes(30);
    let hour = |t: DateTime<Utc>| blowing(t, if t >= at(13) { 14.0 } else { 10.0 }, 15.0);
    let found = told(&outing, &hour, CautionCode::Building).pop().expect("told");
    assert_eq!(found.from, at(13));
    let CautionDetail::Building { back_by, .. } = found.detail else {
        panic!("{found:?}")
    };
    assert_eq!(back_by, Some(at(12)));
}

fn leg(bearing: f64, distance: f64) -> Leg {
    Leg {
        bearing: Bearing::new(bearing),
        distance: NauticalMiles(distance),
    }
}

/// When to turn for home with these legs and a wind that is 10 kn until 13:00 and `later` after, from 225; then the minutes it takes.
fn way_home(legs: &[Leg], later: f64) -> Option<(Option<DateTime<Utc>>, f64, f64)> {
    let club = plain();
    let mut outing = outing(&club);
    outing.legs = legs;
    let hour = |t: DateTime<Utc>| {
        let mean = if t > at(13) { later } else { 10.0 };
        blowing(t, mean, mean + 3.0)
    };
    let found = told(&outing, &hour, CautionCode::WayHome).pop()?;
    assert_eq!(found.to, outing.alongside);
    let CautionDetail::WayHome {
        turn_by,
        takes_min,
        tacked,
        ..
    } = found.detail
    else {
        panic!("{found:?}")
    };
    assert_eq!(found.from, turn_by.unwrap_or(outing.leaves));
    Some((turn_by, takes_min, tacked.0))
}

#[test]
fn the_way_home_to_windward_against_a_rise_says_when_to_turn() {
    // Home on 225, dead to windward, 4.5 nm: 90 min at 3 kn and 30 to spare are two hours: turn by 14:00. In tacks 4.5 x 1.414.
    let (turn_by, takes, tacked) = way_home(&[leg(45.0, 4.5), leg(225.0, 4.5)], 14.0).expect("told");
    assert_eq!((turn_by, takes), (Some(at(14)), 120.0));
    assert!((tacked - 4.5 * 2f64.sqrt()).abs() < 1e-9);
    // Three knots and nine tenths more wind, or a course 45 degrees off it: none.
    assert_eq!(way_home(&[leg(45.0, 4.5), leg(225.0, 4.5)], 13.9), None);
    assert_eq!(way_home(&[leg(90.0, 4.5), leg(270.0, 4.5)], 14.0), None);
    assert!(way_home(&[leg(89.0, 4.5), leg(269.0, 4.5)], 14.0).is_some());
    // To windward first and home before it: none. No legs: not known, not told.
    assert_eq!(way_home(&[leg(225.0, 4.5), leg(45.0, 4.5)], 14.0), None);
    assert_eq!(way_home(&[], 14.0), None);
    // 17 nm take 5 h 40 and the 30 min: longer than the six hours out.
    let (turn_by, takes, _) = way_home(&[leg(45.0, 17.0), leg(225.0, 17.0)], 14.0).expect("told");
    assert_eq!((turn_by, takes), (None, 370.0));
}
