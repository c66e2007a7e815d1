//! What must hold of every criterion, whatever the numbers are (3-rules of the design; common practice, no source).

use crate::common::{Floors, WIND_AND_SEA, at, club, fair, known, missing, outing, reference, shared};
use chrono::{DateTime, TimeDelta, Utc};
use club::{Club, Combine, Entrance, HighWater, Limit, LimitSector, Sector, TableWind, TideGate};
use conditions::HourConditions;
use forecast::{Gap, Member, SourceId};
use proptest::prelude::*;
use rules::numbers::HourNumbers;
use rules::{Call, Forecasts, Judge, MemberView, Outing, Verdict, decide};
use seaway::quantity::Celsius;
use seaway::{DirectionFrom, Knots, Metres, Wind};
use std::rc::Rc;

/// The numbers of one hour: mean, gust over mean, from, wave, wave from, steepness, CAPE, rain, visibility, air, water.
#[derive(Clone, Debug)]
struct Weather {
    mean: f64,
    factor: f64,
    from: f64,
    wave: f64,
    wave_from: f64,
    steepness: f64,
    cape: f64,
    rain: f64,
    visibility: f64,
    air: f64,
    water: f64,
}

fn weather() -> impl Strategy<Value = Weather> {
    let wind = (6.0..26.0f64, 1.1..1.6f64, 0.0..360.0f64);
    let sea = (0.2..2.2f64, 0.0..360.0f64, 0.01..0.06f64);
    let sky = (
        0.0..1500.0f64,
        0.0..4.0f64,
        800.0..20_000.0f64,
        0.0..20.0f64,
        5.0..18.0f64,
    );
    (wind, sea, sky).prop_map(
        |((mean, factor, from), (wave, wave_from, steepness), sky)| Weather {
            mean,
            factor,
            from,
            wave,
            wave_from,
            steepness,
            cape: sky.0,
            rain: sky.1,
            visibility: sky.2,
            air: sky.3,
            water: sky.4,
        },
    )
}

/// Hours 8 to 19 of one member.
type Day = Vec<Weather>;
const FIRST: i64 = 8;
const HOURS: usize = 12;

fn day() -> impl Strategy<Value = Day> {
    prop::collection::vec(weather(), HOURS)
}

fn conditions(day: &Day, time: DateTime<Utc>) -> HourConditions {
    let index = (time - at(FIRST)).num_hours().clamp(0, HOURS as i64 - 1) as usize;
    let hour = &day[index];
    HourConditions {
        wind: known(Wind {
            speed: Knots(hour.mean),
            from: DirectionFrom::new(hour.from),
        }),
        gust: known(Knots(hour.mean * hour.factor)),
        wave_height: known(Metres(hour.wave)),
        wave_from: known(DirectionFrom::new(hour.wave_from)),
        steepness: known(hour.steepness),
        cape_j_per_kg: known(hour.cape),
        rain_mm_per_h: known(hour.rain),
        visibility: known(Metres(hour.visibility)),
        air: known(Celsius(hour.air)),
        water: known(Celsius(hour.water)),
        ..fair(time)
    }
}

/// Which of the club's ways are in force.
#[derive(Clone, Copy, Debug)]
struct Ways {
    floors: bool,
    masthead: bool,
    entrance: bool,
    sectors: bool,
    thunder_stops: bool,
    accumulate: bool,
    extra_reefs: u8,
}

fn ways() -> impl Strategy<Value = Ways> {
    let flags = (
        any::<bool>(),
        any::<bool>(),
        any::<bool>(),
        any::<bool>(),
        any::<bool>(),
        any::<bool>(),
    );
    (flags, 0..3u8).prop_map(
        |((floors, masthead, entrance, sectors, thunder_stops, accumulate), extra_reefs)| Ways {
            floors,
            masthead,
            entrance,
            sectors,
            thunder_stops,
            accumulate,
            extra_reefs,
        },
    )
}

const EVERY_LIMIT: &str = "steepness = { caution_at = 0.045, stop_at = 0.055 }
cape_with_rain_j_kg = { caution_at = 700, stop_at = 1200 }
berth_crosswind_kn = { caution_at = 12, stop_at = 18 }
visibility_m = { caution_at = 3000, stop_at = 1000 }
wind_chill_c = { caution_at = 4, stop_at = -2 }
water_c = { caution_at = 8, stop_at = 6 }
daylight_margin_min = { caution_at = 60, stop_at = 20 }";

fn club_of(ways: Ways) -> Club {
    let floors = if ways.floors {
        Floors::Default
    } else {
        Floors::None
    };
    let mut club = club(floors, &format!("{WIND_AND_SEA}\n{EVERY_LIMIT}"));
    let venue = &mut club.venues[0];
    if ways.entrance {
        venue.entrance = Some(Entrance {
            name: "the Gap".to_owned(),
            minutes_from_berth: 20.0,
            open_to: Some(Sector {
                from: DirectionFrom::new(180.0),
                to: DirectionFrom::new(270.0),
            }),
            wave: Some(Limit {
                caution_at: 1.2,
                stop_at: 1.6,
            }),
            gate: Some(TideGate {
                opens_before_h: 4.0,
                shuts_after_h: 4.0,
            }),
        });
        venue.high_waters = vec![HighWater {
            at: at(13),
            range: None,
        }];
    }
    if ways.sectors {
        venue.limit_sectors = vec![LimitSector {
            sector: Sector {
                from: DirectionFrom::new(200.0),
                to: DirectionFrom::new(300.0),
            },
            factor: 0.85,
        }];
    }
    if ways.masthead {
        club.boats[0].table_wind = TableWind::ApparentAtMasthead {
            height: Metres(13.0),
            boat_speed: Knots(5.0),
        };
    }
    let level = &mut club.levels[0];
    level.thunder_stops = ways.thunder_stops;
    level.accumulate = ways.accumulate;
    level.extra_reefs = ways.extra_reefs;
    club
}

type Hours<'a> = dyn Fn(Member, DateTime<Utc>) -> HourConditions + 'a;

fn call(outing: &Outing<'_>, members: usize, hours: &Hours<'_>) -> Verdict {
    let source = SourceId::new("test");
    let members: Vec<Member> = (0..members as u16).map(Member).collect();
    let view = MemberView {
        source: &source,
        reference: Some(reference()),
        members: &members,
        at: &shared(hours),
    };
    decide(outing, &Forecasts::one(view), reference() + TimeDelta::hours(9))
}

fn call_days(outing: &Outing<'_>, days: &[Day]) -> Verdict {
    call(outing, days.len(), &|member, time| {
        conditions(&days[usize::from(member.0)], time)
    })
}

/// Every quantity that is needed, taken away.
const HOLES: [fn(&mut HourConditions); 8] = [
    |hour| hour.wind = missing(Gap::Damaged),
    |hour| hour.gust = missing(Gap::NotThere),
    |hour| hour.wave_height = missing(Gap::Masked),
    |hour| hour.steepness = missing(Gap::Damaged),
    |hour| hour.visibility = missing(Gap::NotInFeed),
    |hour| hour.air = missing(Gap::RunTooOld),
    |hour| hour.water = missing(Gap::NoWater),
    |hour| {
        hour.cape_j_per_kg = missing(Gap::Damaged);
        hour.rain_mm_per_h = missing(Gap::Damaged);
    },
];

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn more_wind_is_never_kinder_by_any_criterion(
        ways in ways(), days in prop::collection::vec(day(), 1..4), more in 0.0..8.0f64,
    ) {
        let club = club_of(ways);
        let outing = outing(&club);
        let windier: Vec<Day> = days
            .iter()
            .map(|day| day.iter().map(|hour| Weather { mean: hour.mean + more, ..hour.clone() }).collect())
            .collect();
        let (before, after) = (call_days(&outing, &days), call_days(&outing, &windier));
        prop_assert!(after.call >= before.call, "{:?} became {:?} with {more} kn more", before.call, after.call);
        prop_assert!(after.p_no_go >= before.p_no_go && after.p_marginal_or_worse >= before.p_marginal_or_worse);
        let leaves_with = |verdict: &Verdict| verdict.plan.as_ref().map_or(usize::MAX, |plan| plan.leave_with);
        prop_assert!(leaves_with(&after) >= leaves_with(&before));
    }

    #[test]
    fn a_worse_member_or_one_more_no_go_never_lowers_the_chance_of_no_go(
        ways in ways(), days in prop::collection::vec(day(), 2..5), which in any::<prop::sample::Index>(), worse in 0.0..5.0f64,
    ) {
        // With floors a member that stands apart widens the spread, and the floor lifts the others less: so it is without them.
        let club = club_of(Ways { floors: false, ..ways });
        let outing = outing(&club);
        let mut after = days.clone();
        for hour in &mut after[which.index(days.len())] {
            hour.mean += worse;
            hour.wave += worse / 5.0;
            hour.steepness += worse / 200.0;
            hour.cape += 100.0 * worse;
            hour.rain += worse;
            hour.visibility /= 1.0 + worse;
            hour.water -= worse;
        }
        let before = call_days(&outing, &days);
        let with_worse = call_days(&outing, &after);
        prop_assert!(with_worse.p_no_go >= before.p_no_go);
        let gale = days[0].iter().map(|hour| Weather { mean: 60.0, ..hour.clone() }).collect();
        let with_one_more = call_days(&outing, &[days, vec![gale]].concat());
        prop_assert!(with_one_more.p_no_go >= before.p_no_go);
    }

    #[test]
    fn a_needed_value_that_is_missing_never_gives_a_go(
        ways in ways(), days in prop::collection::vec(day(), 1..6), hole in 0..HOLES.len(), hour in 10..=16i64,
    ) {
        let club = club_of(ways);
        let outing = outing(&club);
        // In more than a fifth of the members, as the policy asks for 80 %.
        let holed = days.len().div_ceil(4).max(1);
        let verdict = call(&outing, days.len(), &|member, time| {
            let mut conditions = conditions(&days[usize::from(member.0)], time);
            // A steepness counts only in a sea of half a metre.
            conditions.wave_height = known(Metres(conditions.wave_height.map_or(1.0, |wave| wave.value.0.max(0.6))));
            if usize::from(member.0) < holed && time == at(hour) {
                HOLES[hole](&mut conditions);
            }
            conditions
        });
        prop_assert!(matches!(verdict.call, Call::NoCall | Call::NoGo), "{:?}", verdict.call);
    }

    #[test]
    fn which_ensemble_comes_first_does_not_matter(
        ways in ways(), one in prop::collection::vec(day(), 2..4), other in prop::collection::vec(day(), 2..4), mean in any::<bool>(),
    ) {
        let mut club = club_of(ways);
        club.policy.combine = if mean { Combine::Mean } else { Combine::Worse };
        let outing = outing(&club);
        let sources = [SourceId::new("one"), SourceId::new("other")];
        let days = [&one, &other];
        let members = days.map(|days| (0..days.len() as u16).map(Member).collect::<Vec<_>>());
        let hours = days.map(|days| move |member: Member, time| Rc::new(conditions(&days[usize::from(member.0)], time)));
        let view = |which: usize| MemberView {
            source: &sources[which],
            reference: Some(reference()),
            members: &members[which],
            at: &hours[which],
        };
        let decided = |first: usize, second: usize| {
            let forecasts = Forecasts { second: Some(view(second)), ..Forecasts::one(view(first)) };
            decide(&outing, &forecasts, reference())
        };
        let (before, after) = (decided(0, 1), decided(1, 0));
        prop_assert_eq!(before.call, after.call);
        prop_assert_eq!((before.p_no_go, before.p_marginal_or_worse), (after.p_no_go, after.p_marginal_or_worse));
        prop_assert_eq!(before.firmness, after.firmness);
    }

    /// The calls that are counted are those of the findings that are told, holes included.
    #[test]
    fn counting_and_telling_come_to_the_same_call(
        ways in ways(), day in day(), hole in prop::option::of(0..HOLES.len()), hour in 10..=17i64,
    ) {
        let club = club_of(ways);
        let outing = outing(&club);
        let judge = Judge::new(&outing);
        let looked: Vec<HourConditions> = judge
            .instants()
            .map(|time| {
                let mut conditions = conditions(&day, time);
                if let Some(hole) = hole && time == at(hour) {
                    HOLES[hole](&mut conditions);
                }
                conditions
            })
            .collect();
        let numbers: Vec<HourNumbers> = looked.iter().map(HourNumbers::from).collect();
        let told = judge.assess(&looked.into_iter().map(Rc::new).collect::<Vec<_>>());
        prop_assert_eq!(told.call, judge.call(numbers.iter().map(|hour| (hour, 0.0))));
        // What is told supports it: the worst finding, or an unknown, or three cautions together.
        let worst = told.findings().map(|finding| finding.call).fold(Call::Go, Call::worst);
        let unknown = told.hours.iter().any(|hour| !hour.unknown.is_empty());
        let accumulated = told.hours.iter().chain(&told.overrun).any(|hour| hour.accumulated);
        match told.call {
            Call::NoGo => prop_assert!(worst == Call::NoGo || accumulated),
            Call::NoCall => prop_assert!(unknown && worst != Call::NoGo),
            Call::Marginal => prop_assert!(worst == Call::Marginal || accumulated),
            Call::Go => prop_assert!(worst == Call::Go && !unknown),
        }
    }
}
