//! What the place adds: thunder that stops, the entrance and its gate, sectors that tighten limits, tables of masthead wind.
//! No source but where named: common practice; the arithmetic is by hand.

use crate::common::{Floors, WIND_AND_SEA, at, blowing, call_one, club, fair, known, missing, outing};
use chrono::{DateTime, TimeDelta, Utc};
use club::{Club, Entrance, HighWater, Limit, LimitSector, Sector, TableWind, TideGate};
use conditions::HourConditions;
use forecast::Gap;
use rules::{Call, Criterion};
use seaway::{DirectionFrom, Knots, Metres};

fn sector(from: f64, to: f64) -> Sector {
    Sector {
        from: DirectionFrom::new(from),
        to: DirectionFrom::new(to),
    }
}

/// A club whose venue has an entrance a quarter of an hour from the berth: passed at 10:15 and 15:45.
fn with_entrance(wave: Option<Limit>, open_to: Option<Sector>, gate: Option<TideGate>) -> Club {
    let mut club = club(Floors::None, WIND_AND_SEA);
    club.venues[0].entrance = Some(Entrance {
        name: "the Gap".to_owned(),
        minutes_from_berth: 15.0,
        open_to,
        wave,
        gate,
    });
    club
}

fn quarter(hour: i64, minutes: i64) -> DateTime<Utc> {
    at(hour) + TimeDelta::minutes(minutes)
}

#[test]
fn thunder_stops_the_lowest_level_from_a_thousand_with_two_millimetres() {
    let club = club(Floors::None, WIND_AND_SEA);
    let call_of = |level: usize, cape, rain| {
        let mut outing = outing(&club);
        outing.level = &club.levels[level];
        let verdict = call_one(&outing, &|t| HourConditions {
            cape_j_per_kg: known(cape),
            rain_mm_per_h: known(rain),
            ..fair(t)
        });
        let told = verdict.reasons.first().map(|reason| reason.finding.criterion);
        (verdict.call, told)
    };
    assert_eq!(call_of(0, 1000.0, 2.0), (Call::NoGo, Some(Criterion::Squall)));
    assert_eq!(call_of(0, 999.0, 2.0).0, Call::Go);
    assert_eq!(call_of(0, 1000.0, 1.9).0, Call::Go);
    // The second level is not the lowest: it is warned, not stopped.
    assert_eq!(call_of(1, 1000.0, 2.0).0, Call::Go);
}

#[test]
fn thunder_that_cannot_be_ruled_out_is_no_call_unless_no_source_gives_it() {
    let club = club(Floors::None, WIND_AND_SEA);
    let outing = outing(&club);
    let call_of = |cape: conditions::Known<f64>, rain: conditions::Known<f64>| {
        call_one(&outing, &|t| HourConditions {
            cape_j_per_kg: cape.clone(),
            rain_mm_per_h: rain.clone(),
            ..fair(t)
        })
        .call
    };
    assert_eq!(call_of(missing(Gap::Damaged), known(3.0)), Call::NoCall);
    assert_eq!(call_of(known(1200.0), missing(Gap::Damaged)), Call::NoCall);
    // The other value alone rules it out.
    assert_eq!(call_of(missing(Gap::Damaged), known(1.0)), Call::Go);
    assert_eq!(call_of(known(300.0), missing(Gap::Damaged)), Call::Go);
    // A feed without CAPE is not a damaged one.
    assert_eq!(call_of(missing(Gap::NotInFeed), known(3.0)), Call::Go);
}

#[test]
fn the_entrance_is_judged_at_both_its_passages_by_its_own_limit() {
    let limit = Limit {
        caution_at: 1.0,
        stop_at: 1.4,
    };
    let club = with_entrance(Some(limit), Some(sector(200.0, 260.0)), None);
    let call_at = |when: DateTime<Utc>, height: f64, from: f64| {
        call_one(&outing(&club), &|t| {
            if t == when {
                HourConditions {
                    wave_height: known(Metres(height)),
                    wave_from: known(DirectionFrom::new(from)),
                    ..fair(t)
                }
            } else {
                fair(t)
            }
        })
        .call
    };
    for passage in [quarter(10, 15), quarter(15, 45)] {
        assert_eq!(call_at(passage, 1.4, 225.0), Call::NoGo);
        assert_eq!(call_at(passage, 1.39, 225.0), Call::Marginal);
        assert_eq!(call_at(passage, 0.99, 225.0), Call::Go);
        // From the north it does not run in; out at sea 1.4 m is inside the level's 1.5.
        assert_eq!(call_at(passage, 1.4, 0.0), Call::Go);
    }
    // Out at sea the entrance's limit does not count.
    assert_eq!(call_at(at(13), 1.4, 225.0), Call::Go);
}

#[test]
fn a_sea_of_unknown_direction_runs_into_the_entrance() {
    let limit = Limit {
        caution_at: 1.0,
        stop_at: 1.4,
    };
    let club = with_entrance(Some(limit), Some(sector(200.0, 260.0)), None);
    let with = |change: &dyn Fn(&mut HourConditions)| {
        call_one(&outing(&club), &|t| {
            let mut hour = fair(t);
            hour.wave_height = known(Metres(1.4));
            change(&mut hour);
            hour
        })
        .call
    };
    assert_eq!(with(&|hour| hour.wave_from = missing(Gap::Masked)), Call::NoGo);
    assert_eq!(
        with(&|hour| hour.wave_height = missing(Gap::Masked)),
        Call::NoCall
    );
}

#[test]
fn a_passage_outside_the_tide_gate_is_a_no_go_and_without_a_high_water_no_call() {
    let gate = TideGate {
        opens_before_h: 3.0,
        shuts_after_h: 2.0,
    };
    let mut club = with_entrance(None, None, Some(gate));
    let mut with_high_water = |when: Option<DateTime<Utc>>| {
        let high_water = |at| HighWater { at, range: None };
        club.venues[0].high_waters = when.map(high_water).into_iter().collect();
        let verdict = call_one(&outing(&club), &fair);
        let reason = verdict
            .reasons
            .first()
            .map(|r| (r.finding.criterion, r.finding.value));
        (
            verdict.call,
            reason,
            verdict.unknown.first().map(|u| u.missing.gap),
        )
    };
    // Passages at 10:15 and 15:45, 5.5 h apart; the gate is open for 5. High water at 13:30 opens it at 10:30: a quarter late
    // for the first, and it shuts at 15:30, a quarter before the second.
    let (call, reason, _) = with_high_water(Some(quarter(13, 30)));
    assert_eq!((call, reason), (Call::NoGo, Some((Criterion::TideGate, 0.25))));
    // Two high waters do not join; 13:15 lets her out on the minute, and shuts at 15:15: half an hour too early.
    let (call, reason, _) = with_high_water(Some(quarter(13, 15)));
    assert_eq!((call, reason), (Call::NoGo, Some((Criterion::TideGate, 0.5))));
    // None within seven hours of the passages: nobody knows.
    let (call, _, gap) = with_high_water(Some(at(0)));
    assert_eq!((call, gap), (Call::NoCall, Some(Gap::NoHighWater)));
    // A longer gate is open both times.
    let wide = TideGate {
        opens_before_h: 3.5,
        shuts_after_h: 3.0,
    };
    let mut club = with_entrance(None, None, Some(wide));
    club.venues[0].high_waters = vec![HighWater {
        at: quarter(13, 15),
        range: None,
    }];
    assert_eq!(call_one(&outing(&club), &fair).call, Call::Go);
}

#[test]
fn a_sector_tightens_the_limits_of_wind_and_sea_and_says_so() {
    let mut club = club(Floors::None, WIND_AND_SEA);
    let onshore = |factor| LimitSector {
        sector: sector(200.0, 250.0),
        factor,
    };
    club.venues[0].limit_sectors = vec![onshore(0.9)];
    let call_of = |club: &Club, mean: f64, gust: f64| call_one(&outing(club), &|t| blowing(t, mean, gust));
    // 0.9 x 15 = 13.5 caution, 0.9 x 20 = 18 stop; gust 18 and 23.4.
    let told = call_of(&club, 18.0, 18.0);
    assert_eq!(told.call, Call::NoGo);
    let reason = &told.reasons[0].finding;
    assert_eq!((reason.limit.stop_at, reason.tightened), (18.0, 0.9));
    assert_eq!(call_of(&club, 17.9, 17.95).call, Call::Marginal);
    assert_eq!(call_of(&club, 13.4, 17.9).call, Call::Go);
    // Two sectors together stop at 0.8: 0.9 x 0.8 = 0.72 would stop at 14.4, 0.8 stops at 16.
    club.venues[0].limit_sectors.push(onshore(0.8));
    assert_eq!(call_of(&club, 15.9, 16.0).call, Call::Marginal);
    assert_eq!(call_of(&club, 16.0, 16.0).call, Call::NoGo);
    // The wind of these tests comes from 225; turned away from it nothing is tightened.
    club.venues[0].limit_sectors = vec![LimitSector {
        sector: sector(0.0, 90.0),
        factor: 0.8,
    }];
    assert_eq!(call_of(&club, 14.9, 19.9).call, Call::Go);
}

#[test]
fn a_table_of_masthead_wind_is_read_close_hauled_aloft() {
    let mut club = club(Floors::None, WIND_AND_SEA);
    club.boats[0].table_wind = TableWind::ApparentAtMasthead {
        height: Metres(15.0),
        boat_speed: Knots(5.0),
    };
    club.boats[0].closest_deg = 45.0;
    let boat = &club.boats[0];
    // Log law over the open sea, z0 = 0.0002 m (US EPA, Table 6-10): ln(15/0.0002) / ln(10/0.0002) = 11.2252/10.8198 = 1.03747.
    // 10 kn is 10.3747 kn aloft. Apparent at 45 degrees with 5 kn: ahead 10.3747 x 0.70711 + 5 = 12.3360, abeam 7.3360;
    // the root of 152.177 + 53.817 is 14.352.
    assert!((boat.in_table(Knots(10.0)).0 - 14.352).abs() < 0.002);
    // 14.35 kn is past the first row (12) of a table that 10 kn of true wind would not leave; gust 10 likewise (16).
    assert_eq!(boat.row_for(Knots(10.0), Knots(10.0)), Some(1));
    assert_eq!(boat.reef_table.row_for(Knots(10.0), Knots(10.0)), Some(0));
    // Past the table: 25 kn apparent is reached below 21 kn of true wind, though the level's stop is 20.
    let verdict = call_one(&outing(&club), &|t| blowing(t, 19.9, 19.95));
    assert_eq!(verdict.call, Call::Marginal);
    let stronger = call_one(&outing(&club), &|t| blowing(t, 21.0, 21.0));
    let past_table = stronger
        .reasons
        .iter()
        .find(|r| r.finding.criterion == Criterion::TableMean);
    // The end of the table in true wind: A^2 + 25 + 10 A cos 45 = 25^2 gives A = 21.213 aloft, 20.447 at 10 m.
    let told = &past_table.expect("told").finding;
    assert_eq!(told.value, 21.0);
    assert!((told.limit.stop_at - 20.447).abs() < 0.002);
}
