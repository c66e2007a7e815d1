//! How hours become a call. The tables are 3-rules of the design (common practice, no source) worked by hand.

use crate::common::{
    Floors, WIND_AND_SEA, at, blowing, call_members, call_one, club, fair, known, missing, outing, reference,
    shared, wind,
};
use chrono::TimeDelta;
use club::Quantity;
use conditions::HourConditions;
use forecast::{Gap, Member, SourceId};
use rules::{Call, Criterion, Firmness, Forecasts, MemberView, decide};
use seaway::quantity::Celsius;
use seaway::{Knots, Metres, Seconds};

#[test]
fn limits_are_inclusive_on_both_bounds() {
    let club = club(Floors::None, WIND_AND_SEA);
    // mean, gust, wave -> call
    let table = [
        (14.9, 19.9, 1.49, Call::Go),
        (15.0, 19.0, 1.0, Call::Marginal),
        (14.0, 20.0, 1.0, Call::Marginal),
        (14.0, 19.0, 1.5, Call::Marginal),
        (19.9, 25.9, 1.99, Call::Marginal),
        (20.0, 25.0, 1.0, Call::NoGo),
        (14.0, 26.0, 1.0, Call::NoGo),
        (14.0, 19.0, 2.0, Call::NoGo),
    ];
    for (mean, gust, wave, expected) in table {
        let hour = |time| HourConditions {
            wave_height: known(Metres(wave)),
            ..blowing(time, mean, gust)
        };
        assert_eq!(
            call_one(&outing(&club), &hour).call,
            expected,
            "{mean} kn, gust {gust}, {wave} m"
        );
    }
}

#[test]
fn the_worst_instant_makes_the_call_and_overrun_only_a_caution() {
    let club = club(Floors::None, WIND_AND_SEA);
    let at_hour = |hour: i64| {
        call_one(&outing(&club), &move |time| {
            if time == at(hour) {
                blowing(time, 22.0, 25.0)
            } else {
                fair(time)
            }
        })
        .call
    };
    assert_eq!(at_hour(13), Call::NoGo, "between leaving and being alongside");
    assert_eq!(at_hour(10), Call::NoGo, "on leaving");
    assert_eq!(at_hour(16), Call::NoGo, "on being alongside");
    assert_eq!(at_hour(17), Call::Marginal, "in the hour of overrun");
    assert_eq!(at_hour(18), Call::Go, "after it");
}

#[test]
fn each_missing_quantity_that_is_limited_makes_no_call_and_never_a_go() {
    let limits = format!(
        "{WIND_AND_SEA}
steepness = {{ caution_at = 0.05, stop_at = 0.07 }}
cape_with_rain_j_kg = {{ caution_at = 500, stop_at = 1000 }}
berth_crosswind_kn = {{ caution_at = 12, stop_at = 16 }}
visibility_m = {{ caution_at = 3000, stop_at = 1000 }}
wind_chill_c = {{ caution_at = 4, stop_at = 0 }}
water_c = {{ caution_at = 10, stop_at = 6 }}"
    );
    let club = club(Floors::None, &limits);
    type Hole = (&'static str, fn(&mut HourConditions));
    let holes: [Hole; 9] = [
        ("wind", |h| h.wind = missing(Gap::Damaged)),
        ("gust", |h| h.gust = missing(Gap::Damaged)),
        ("wave height", |h| h.wave_height = missing(Gap::NotThere)),
        ("wave period and so steepness", |h| {
            h.wave_period = missing(Gap::Masked);
            h.steepness = missing(Gap::Masked);
        }),
        ("visibility", |h| h.visibility = missing(Gap::NotInFeed)),
        ("air", |h| h.air = missing(Gap::RunTooOld)),
        ("water", |h| h.water = missing(Gap::NoWater)),
        ("rain while CAPE is high", |h| {
            h.rain_mm_per_h = missing(Gap::Damaged);
            h.cape_j_per_kg = known(800.0);
        }),
        ("CAPE while it rains", |h| {
            h.cape_j_per_kg = missing(Gap::BeyondRun);
            h.rain_mm_per_h = known(2.0);
        }),
    ];
    assert_eq!(call_one(&outing(&club), &fair).call, Call::Go, "nothing missing");
    for (what, hole) in holes {
        let hour = |time| {
            let mut hour = fair(time);
            if time == at(12) {
                hole(&mut hour);
            }
            hour
        };
        let verdict = call_one(&outing(&club), &hour);
        assert_eq!(verdict.call, Call::NoCall, "{what} missing");
        assert!(!verdict.unknown.is_empty(), "{what}: the reason is told");
        // A limit broken elsewhere is not hidden by the hole.
        let broken = |time| {
            let mut hour = hour(time);
            if time == at(14) {
                hour.wave_height = known(Metres(2.4));
            }
            hour
        };
        assert_eq!(
            call_one(&outing(&club), &broken).call,
            Call::NoGo,
            "{what} missing, sea past the stop"
        );
    }
}

// Source: the design's order of calls: a missing value never hides a limit that is already broken, and never becomes a go.
#[test]
fn a_stop_at_one_point_stands_although_another_point_is_missing() {
    let club = club(Floors::None, WIND_AND_SEA);
    let partly = |gap, elsewhere| {
        let mut whole: conditions::Missing = missing::<Knots>(gap).unwrap_err();
        whole.elsewhere = Some(elsewhere);
        whole
    };
    // what is missing with the worst that is known at another point -> call; stops are at 20, 26 and 2
    for (quantity, elsewhere, expected) in [
        (Quantity::Mean, 20.0, Call::NoGo),
        (Quantity::Mean, 19.9, Call::NoCall),
        (Quantity::Gust, 26.0, Call::NoGo),
        (Quantity::Gust, 25.9, Call::NoCall),
        (Quantity::Gust, 5.0, Call::NoCall),
        (Quantity::WaveHeight, 2.0, Call::NoGo),
        (Quantity::WaveHeight, 1.9, Call::NoCall),
    ] {
        let hour = |time| {
            let mut hour = fair(time);
            let partly = partly(Gap::Damaged, elsewhere);
            match quantity {
                Quantity::Mean => hour.wind = Err(partly),
                Quantity::Gust => hour.gust = Err(partly),
                _ => hour.wave_height = Err(partly),
            }
            hour
        };
        let view = call_one(&outing(&club), &hour);
        assert_eq!(view.call, expected, "{quantity:?} {elsewhere}");
        assert!(
            !view.unknown.is_empty(),
            "{quantity:?}: what is missing is told all the same"
        );
    }
}

#[test]
fn what_is_missing_but_cannot_matter_is_not_held_against_a_session() {
    let limits = format!("{WIND_AND_SEA}\ncape_with_rain_j_kg = {{ caution_at = 500, stop_at = 1000 }}");
    let club = club(Floors::None, &limits);
    let dry = |time| HourConditions {
        cape_j_per_kg: missing(Gap::Damaged),
        ..fair(time)
    };
    assert_eq!(
        call_one(&outing(&club), &dry).call,
        Call::Go,
        "no CAPE, but no rain"
    );
    let calm_air = |time| HourConditions {
        rain_mm_per_h: missing(Gap::Damaged),
        ..fair(time)
    };
    assert_eq!(
        call_one(&outing(&club), &calm_air).call,
        Call::Go,
        "no rain, but CAPE is low"
    );
    let no_visibility = |time| HourConditions {
        visibility: missing(Gap::Damaged),
        ..fair(time)
    };
    assert_eq!(
        call_one(&outing(&club), &no_visibility).call,
        Call::Go,
        "the level does not limit visibility"
    );
}

#[test]
fn lower_is_worse_for_visibility_cold_and_daylight() {
    let limits = format!(
        "{WIND_AND_SEA}
visibility_m = {{ caution_at = 3000, stop_at = 1000 }}
wind_chill_c = {{ caution_at = 4, stop_at = 0 }}
water_c = {{ caution_at = 10, stop_at = 6 }}
daylight_margin_min = {{ caution_at = 60, stop_at = 20 }}"
    );
    let club = club(Floors::None, &limits);
    let seen = |metres| {
        call_one(&outing(&club), &|t| HourConditions {
            visibility: known(Metres(metres)),
            ..fair(t)
        })
        .call
    };
    assert_eq!(
        [seen(3001.0), seen(3000.0), seen(1000.0)],
        [Call::Go, Call::Marginal, Call::NoGo]
    );
    let water = |c| {
        call_one(&outing(&club), &|t| HourConditions {
            water: known(Celsius(c)),
            ..fair(t)
        })
        .call
    };
    assert_eq!(
        [water(10.1), water(10.0), water(5.0)],
        [Call::Go, Call::Marginal, Call::NoGo]
    );
    // 10 kn is 18.5 km/h; by the metric formula 5 C then feels like 2.0 C and 0 C like -4.2 C (MSC chart: 1 and -5 at 20 km/h).
    let air = |c| {
        call_one(&outing(&club), &|t| HourConditions {
            air: known(Celsius(c)),
            ..fair(t)
        })
        .call
    };
    assert_eq!(
        [air(15.0), air(5.0), air(0.0)],
        [Call::Go, Call::Marginal, Call::NoGo]
    );
    let dark = |sets: TimeDelta| {
        let mut outing = outing(&club);
        outing.sun.sets = Some(outing.alongside + sets);
        call_one(&outing, &fair).call
    };
    let minutes = |m| dark(TimeDelta::minutes(m));
    assert_eq!(
        [minutes(61), minutes(60), minutes(20), minutes(-30)],
        [Call::Go, Call::Marginal, Call::NoGo, Call::NoGo]
    );
}

#[test]
fn past_the_boats_table_is_a_no_go_whatever_the_level_says() {
    let club = club(
        Floors::None,
        "mean_kn = { caution_at = 40, stop_at = 50 }\ngust_kn = { caution_at = 50, stop_at = 60 }",
    );
    let call = |mean, gust| call_one(&outing(&club), &|t| blowing(t, mean, gust));
    assert_eq!(
        call(25.0, 32.0).call,
        Call::Go,
        "the last row's bounds are inside"
    );
    let past = call(25.0, 32.1);
    assert_eq!(past.call, Call::NoGo);
    assert_eq!(past.reasons[0].finding.criterion, Criterion::TableGust);
    assert!(past.plan.is_none(), "there is nothing to leave with");
}

#[test]
fn three_cautions_in_one_hour_stop_the_level_that_breaks_on_the_sum() {
    let limits = format!("{WIND_AND_SEA}\nvisibility_m = {{ caution_at = 3000, stop_at = 1000 }}");
    let mut club = club(Floors::None, &limits);
    // Mean and gust count once: wind + sea is two, wind + sea + visibility three.
    let two = |t| HourConditions {
        wave_height: known(Metres(1.6)),
        ..blowing(t, 16.0, 22.0)
    };
    let three = |t| HourConditions {
        visibility: known(Metres(2500.0)),
        ..two(t)
    };
    assert_eq!(call_one(&outing(&club), &two).call, Call::Marginal);
    let verdict = call_one(&outing(&club), &three);
    assert_eq!(verdict.call, Call::NoGo);
    club.levels[0].accumulate = false;
    assert_eq!(call_one(&outing(&club), &three).call, Call::Marginal);
}

#[test]
fn too_little_wind_is_a_light_go() {
    let club = club(Floors::None, WIND_AND_SEA);
    let verdict = call_one(&outing(&club), &|t| blowing(t, 4.0, 6.0));
    assert_eq!((verdict.call, verdict.light), (Call::Go, true));
    assert!(!call_one(&outing(&club), &fair).light);
}

#[test]
fn steepness_counts_only_in_a_sea_of_half_a_metre() {
    let club = club(
        Floors::None,
        "mean_kn = { caution_at = 30, stop_at = 40 }\nsteepness = { caution_at = 0.04, stop_at = 0.06 }",
    );
    let sea = |height, period| {
        call_one(&outing(&club), &|t| HourConditions {
            wave_height: known(Metres(height)),
            wave_period: known(Seconds(period)),
            steepness: known(height / (9.81 * period * period / std::f64::consts::TAU)),
            ..fair(t)
        })
        .call
    };
    // Deep water: L = 9.81 T^2 / 2 pi. 4 s is 24.98 m, so 0.9 m is 0.036, 1.1 m 0.044 and 1.6 m 0.064.
    assert_eq!(
        [sea(0.9, 4.0), sea(1.1, 4.0), sea(1.6, 4.0)],
        [Call::Go, Call::Marginal, Call::NoGo]
    );
    // 0.4 m at 2 s would be 0.064.
    assert_eq!(sea(0.4, 2.0), Call::Go);
}

#[test]
fn wind_across_the_berth_counts_leaving_and_returning_only() {
    let club = club(
        Floors::None,
        "mean_kn = { caution_at = 30, stop_at = 40 }\nberth_crosswind_kn = { caution_at = 10, stop_at = 14 }",
    );
    // The boat lies heading north: 15 kn from the west is all across, from the north none of it.
    let across = |hours: &[i64]| {
        let times: Vec<_> = hours.iter().map(|&h| at(h)).collect();
        call_one(&outing(&club), &|t| {
            let from = if times.contains(&t) { 270.0 } else { 0.0 };
            HourConditions {
                wind: wind(15.0, from),
                gust: known(Knots(18.0)),
                ..fair(t)
            }
        })
        .call
    };
    assert_eq!(across(&[]), Call::Go);
    assert_eq!(across(&[12, 13]), Call::Go, "under way it does not count");
    assert_eq!(across(&[10]), Call::NoGo);
    assert_eq!(across(&[16]), Call::NoGo);
}

#[test]
fn members_are_counted_and_the_thresholds_hold_at_their_values() {
    let club = club(Floors::None, WIND_AND_SEA);
    // Of 30 members, so many blow past the stop and so many past the caution.
    let counted = |stops: u16, cautions: u16| {
        call_members(&outing(&club), 30, &|member, t| match member.0 {
            m if m < stops => blowing(t, 21.0, 25.0),
            m if m < stops + cautions => blowing(t, 16.0, 19.0),
            _ => fair(t),
        })
    };
    assert_eq!(counted(12, 0).call, Call::NoGo, "12 of 30 is 40 %");
    assert_eq!(counted(11, 0).call, Call::Marginal, "11 of 30 is under 40 %");
    assert_eq!(counted(0, 3).call, Call::Marginal, "3 of 30 is 10 %");
    assert_eq!(counted(0, 2).call, Call::Go, "2 of 30 is under 10 %");
    let verdict = counted(8, 13);
    assert_eq!(
        (
            verdict.counted.no_go,
            verdict.counted.marginal,
            verdict.counted.go
        ),
        (8, 13, 9)
    );
    assert_eq!(verdict.p_no_go, Some(8.0 / 30.0));
    // The worst tenth is the third worst member: 21 kn.
    let mean = verdict
        .reasons
        .iter()
        .find(|r| r.finding.criterion == Criterion::Limit(Quantity::Mean))
        .expect("told");
    assert_eq!(
        (mean.finding.value, mean.past_caution, mean.past_stop),
        (21.0, Some(21), Some(8))
    );
}

#[test]
fn a_member_with_a_hole_is_set_aside_and_too_many_of_them_give_no_probabilities() {
    let club = club(Floors::None, WIND_AND_SEA);
    let holes = |count: u16, stops: u16| {
        call_members(&outing(&club), 30, &|member, t| match member.0 {
            m if m < count => HourConditions {
                wind: missing(Gap::NotThere),
                ..fair(t)
            },
            m if m < count + stops => blowing(t, 21.0, 25.0),
            _ => fair(t),
        })
    };
    let six = holes(6, 0);
    assert_eq!(
        (six.call, six.counted.set_aside.len(), six.counted.members()),
        (Call::Go, 6, 24)
    );
    let seven = holes(7, 0);
    assert_eq!(
        (seven.call, seven.p_no_go),
        (Call::NoCall, None),
        "23 of 30 is under 80 %"
    );
    // 12 of all 30 are past a stop: that much is known whatever the missing ones say.
    assert_eq!(holes(7, 12).call, Call::NoGo);
    assert_eq!(holes(7, 11).call, Call::NoCall);
}

#[test]
fn the_finest_single_run_past_a_stop_makes_a_go_marginal() {
    let club = club(Floors::None, WIND_AND_SEA);
    let outing = outing(&club);
    let (ensemble, single) = (SourceId::new("ensemble"), SourceId::new("single"));
    let members: Vec<Member> = (0..30).map(Member).collect();
    let calm = |_: Member, t| fair(t);
    let gale = |_: Member, t| blowing(t, 21.0, 27.0);
    let governing = MemberView {
        source: &ensemble,
        reference: Some(reference()),
        members: &members,
        at: &shared(&calm),
    };
    let one = MemberView {
        source: &single,
        reference: Some(reference()),
        members: &members[..1],
        at: &shared(&gale),
    };
    let with = |deterministic| Forecasts {
        deterministic,
        ..Forecasts::one(governing)
    };
    let verdict = decide(&outing, &with(Some(one)), reference());
    assert!(verdict.raised_by_deterministic);
    assert_eq!(verdict.call, Call::Marginal);
    assert!(
        verdict
            .reasons
            .iter()
            .any(|reason| reason.deterministic && reason.finding.call == Call::NoGo)
    );
    let verdict = decide(&outing, &with(None), reference());
    assert_eq!(verdict.call, Call::Go);
}

#[test]
fn one_run_alone_is_given_the_floors_spread_never_none() {
    let club = club(Floors::Default, WIND_AND_SEA);
    // Leaving is 28 h after the run: the floor there is 2.625 kn. Its uppermost step is 1.465 x 2.625 = 3.85 kn.
    let steady = |mean: f64| call_one(&outing(&club), &move |t| blowing(t, mean, mean * 1.2));
    assert_eq!(steady(10.0).call, Call::Go);
    let near = steady(13.0);
    assert_eq!(
        near.call,
        Call::Marginal,
        "13 + 3.85 kn is past the caution of 15"
    );
    assert!(
        near.reasons.iter().all(|reason| reason.by_floor),
        "the value itself is inside"
    );
    assert!(near.p_marginal_or_worse.is_some_and(|p| p > 0.0 && p < 1.0));
    let spread = near.hours[1].mean_spread.expect("a spread");
    assert!(spread.0.0 < 13.0 && spread.1.0 > 13.0);
    assert!(near.hours[1].spread_from_floor);
    assert_eq!(
        near.firmness.min(Firmness::Likely),
        near.firmness,
        "one run alone is never firm"
    );
}

#[test]
fn the_timing_floor_sees_a_front_that_may_come_early() {
    let club = club(Floors::Timing(2.0), WIND_AND_SEA);
    // The front comes at 18:00, two hours after being alongside.
    let front = |t| {
        if t >= at(18) {
            blowing(t, 24.0, 31.0)
        } else {
            fair(t)
        }
    };
    let verdict = call_one(&outing(&club), &front);
    // Two hours early it is there at 16:00: one look of three is a no-go.
    assert_eq!(verdict.p_no_go, Some(1.0 / 3.0));
    assert_eq!(verdict.call, Call::Marginal);
}
