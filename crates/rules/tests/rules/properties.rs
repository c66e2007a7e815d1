//! What must hold whatever the numbers are (3-rules of the design; common practice, no source).

use crate::common::{
    Floors, WIND_AND_SEA, at, blowing, call_members, club, fair, known, missing, outing, shared,
};
use chrono::{DateTime, TimeDelta, Utc};
use conditions::HourConditions;
use forecast::{Gap, Member, SourceId};
use proptest::prelude::*;
use rules::{Call, MemberView, Outing, WindowQuery, find_windows};
use seaway::{Knots, Metres};
use std::collections::BTreeMap;

const HOURS: std::ops::Range<i64> = 0..30;

/// Mean wind (kn), gust over mean and wave height (m) of each hour.
type Weather = Vec<(f64, f64, f64)>;

fn weather() -> impl Strategy<Value = Weather> {
    prop::collection::vec((6.0..30.0f64, 1.1..1.6f64, 0.2..2.5f64), HOURS.end as usize)
}

fn hour_of(weather: &Weather, time: DateTime<Utc>, more_wind: f64) -> HourConditions {
    let index = (time - at(0)).num_hours().clamp(0, HOURS.end - 1) as usize;
    let (mean, factor, wave) = weather[index];
    let mean = mean + more_wind;
    HourConditions {
        wave_height: known(Metres(wave)),
        ..blowing(time, mean, mean * factor)
    }
}

fn call_with(outing: &Outing<'_>, members: &[Weather], more_wind: f64) -> rules::Verdict {
    let count = u16::try_from(members.len()).expect("few members");
    call_members(outing, count, &|member, time| {
        hour_of(&members[usize::from(member.0)], time, more_wind)
    })
}

/// Reefs and headsail of the row to leave with: further along the table is less sail.
fn leaves_with(verdict: &rules::Verdict) -> usize {
    verdict.plan.as_ref().map_or(usize::MAX, |plan| plan.leave_with)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn more_wind_is_never_a_kinder_call_nor_more_sail(members in prop::collection::vec(weather(), 1..5), more in 0.0..10.0f64) {
        for floors in [Floors::None, Floors::Default] {
            let club = club(floors, WIND_AND_SEA);
            let outing = outing(&club);
            let (before, after) = (call_with(&outing, &members, 0.0), call_with(&outing, &members, more));
            prop_assert!(after.call >= before.call, "{:?} became {:?}", before.call, after.call);
            prop_assert!(after.p_no_go >= before.p_no_go);
            prop_assert!(leaves_with(&after) >= leaves_with(&before));
        }
    }

    #[test]
    fn a_worse_member_never_lowers_the_chance_of_no_go(
        members in prop::collection::vec(weather(), 2..6), which in any::<prop::sample::Index>(), more in 0.0..10.0f64,
    ) {
        let club = club(Floors::None, WIND_AND_SEA);
        let outing = outing(&club);
        let mut worse = members.clone();
        for hour in &mut worse[which.index(members.len())] {
            hour.0 += more;
            hour.2 += more / 10.0;
        }
        let (before, after) = (call_with(&outing, &members, 0.0), call_with(&outing, &worse, 0.0));
        prop_assert!(after.p_no_go >= before.p_no_go);
        prop_assert!(after.call >= before.call);
    }

    #[test]
    fn the_order_of_members_does_not_matter(members in prop::collection::vec(weather(), 2..6)) {
        let club = club(Floors::Default, WIND_AND_SEA);
        let outing = outing(&club);
        let reversed: Vec<Weather> = members.iter().rev().cloned().collect();
        let (one, other) = (call_with(&outing, &members, 0.0), call_with(&outing, &reversed, 0.0));
        prop_assert_eq!(one.call, other.call);
        prop_assert!((one.p_no_go.unwrap_or(-1.0) - other.p_no_go.unwrap_or(-1.0)).abs() < 1e-12);
        prop_assert_eq!(one.plan, other.plan);
    }

    #[test]
    fn a_hole_never_gives_a_go(hole in 10..=16i64, what in 0..3usize) {
        let club = club(Floors::Default, WIND_AND_SEA);
        let verdict = call_members(&outing(&club), 1, &|_, time| {
            let mut hour = fair(time);
            if time == at(hole) {
                match what {
                    0 => hour.wind = missing(Gap::Damaged),
                    1 => hour.gust = missing(Gap::Damaged),
                    _ => hour.wave_height = missing(Gap::Damaged),
                }
            }
            hour
        });
        prop_assert_eq!(verdict.call, Call::NoCall);
    }

    /// A second, plain way of counting: no rule of the crate but the limits themselves.
    #[test]
    fn counting_by_hand_gives_the_same_shares(members in prop::collection::vec(weather(), 1..8)) {
        let club = club(Floors::None, WIND_AND_SEA);
        let outing = outing(&club);
        let verdict = call_with(&outing, &members, 0.0);
        let past = |weather: &Weather, hours: std::ops::RangeInclusive<usize>, mean: f64, gust: f64, wave: f64| {
            weather[hours].iter().any(|&(m, f, w)| m >= mean || m * f >= gust || w >= wave || m > 25.0 || m * f > 32.0)
        };
        let no_go = members.iter().filter(|weather| past(weather, 10..=16, 20.0, 26.0, 2.0)).count();
        // The hour of overrun, 17:00, counts for a caution.
        let worse = members.iter().filter(|weather| past(weather, 10..=17, 15.0, 20.0, 1.5)).count();
        let n = members.len() as f64;
        prop_assert!((verdict.p_no_go.unwrap_or(-1.0) - no_go as f64 / n).abs() < 1e-12);
        prop_assert!((verdict.p_marginal_or_worse.unwrap_or(-1.0) - worse as f64 / n).abs() < 1e-12);
    }

    #[test]
    fn a_window_holds_no_hour_below_the_wanted_call_and_is_maximal(members in prop::collection::vec(weather(), 1..4)) {
        let club = club(Floors::None, WIND_AND_SEA);
        let mut outing = outing(&club);
        (outing.leaves, outing.alongside) = (at(6), at(20));
        let source = SourceId::new("test");
        let names: Vec<Member> = (0..members.len() as u16).map(Member).collect();
        let hour = |member: Member, time| hour_of(&members[usize::from(member.0)], time, 0.0);
        let view = MemberView { source: &source, reference: Some(at(0)), members: &names, at: &shared(&hour) };
        // By hand: an hour is a go when fewer than a tenth of so few members, that is none, are past a caution.
        let good: BTreeMap<i64, bool> = (6..=20)
            .map(|h| {
                let past = members.iter().any(|weather| {
                    let (mean, factor, wave) = weather[h as usize];
                    mean >= 15.0 || mean * factor >= 20.0 || wave >= 1.5
                });
                (h, !past)
            })
            .collect();
        let query = WindowQuery { wanted: Call::Go, at_least: TimeDelta::hours(2) };
        let windows = find_windows(&outing, &view, query);
        let mut in_windows = 0;
        for window in &windows {
            let (from, to) = ((window.from - at(0)).num_hours(), (window.to - at(0)).num_hours());
            prop_assert!((from..=to).all(|h| good[&h]));
            prop_assert!(from == 6 || !good[&(from - 1)]);
            prop_assert!(to == 20 || !good[&(to + 1)]);
            in_windows += to - from + 1;
        }
        // Every good stretch of three hours or more (two hours long) is in a window.
        let stretches: Vec<i64> = (6..=20).collect();
        let by_hand: i64 = stretches
            .split(|h| !good[h])
            .map(|stretch| stretch.len() as i64)
            .filter(|hours| *hours >= 3)
            .sum();
        prop_assert_eq!(in_windows, by_hand);
    }
}

#[test]
fn knots_are_compared_as_written() {
    // 0.1 + 0.2 style errors have no place in a limit: 20 kn is 20 kn.
    let club = club(Floors::None, WIND_AND_SEA);
    assert_eq!(
        club.boats[0].reef_table.row_for(Knots(12.0), Knots(16.0)),
        Some(0)
    );
}
