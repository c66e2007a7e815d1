//! A second, plain way of counting probabilities and of finding windows, over random weather, floors of spread included.
//!
//! Written from the design's words (sections 2 to 6) with arrays and loops; nothing of the crate is called but what is compared.
//! Standard normal quantiles at (i + 1/2)/7: Python's `statistics.NormalDist().inv_cdf`.

use crate::common::{Floors, WIND_AND_SEA, at, blowing, club, known, outing, reference, shared};
use chrono::{DateTime, TimeDelta, Utc};
use conditions::HourConditions;
use forecast::{Member, SourceId};
use proptest::prelude::*;
use rules::{Call, Forecasts, MemberView, WindowQuery, decide, find_windows};
use seaway::Metres;

/// Mean wind, gust over mean, wave height of each hour from midnight.
type Day = Vec<(f64, f64, f64)>;
const HOURS: usize = 24;
const NORMAL_SEVENTHS: [f64; 7] = [
    -1.465_233_79,
    -0.791_638_61,
    -0.366_106_36,
    0.0,
    0.366_106_36,
    0.791_638_61,
    1.465_233_79,
];

fn day() -> impl Strategy<Value = Day> {
    prop::collection::vec((6.0..24.0f64, 1.1..1.5f64, 0.2..2.3f64), HOURS)
}

fn index(time: DateTime<Utc>) -> usize {
    (time - at(0)).num_hours().clamp(0, HOURS as i64 - 1) as usize
}

fn conditions(day: &Day, time: DateTime<Utc>) -> HourConditions {
    let (mean, factor, wave) = day[index(time)];
    HourConditions {
        wave_height: known(Metres(wave)),
        ..blowing(time, mean, mean * factor)
    }
}

/// How bad an hour is for these limits and this table: 0 go, 1 marginal, 2 no-go.
fn badness((mean, factor, wave): (f64, f64, f64), lift: f64) -> u8 {
    let lifted = (mean + lift).max(0.0);
    let gust = (mean * factor + lift * factor).max(lifted);
    let past =
        |mean_at: f64, gust_at: f64, wave_at: f64| lifted >= mean_at || gust >= gust_at || wave >= wave_at;
    if past(20.0, 26.0, 2.0) || lifted > 25.0 || gust > 32.0 {
        2
    } else {
        u8::from(past(15.0, 20.0, 1.5))
    }
}

/// Speed floor (kn) and timing floor (h) of the default policy: 2.5 kn and 2 h at 24 h, 4 kn and 6 h at 72 h.
fn floor(lead_h: f64) -> (f64, f64) {
    let part = ((lead_h - 24.0) / 48.0).clamp(0.0, 1.0);
    (2.5 + part * 1.5, 2.0 + part * 4.0)
}

fn lead(time: DateTime<Utc>) -> f64 {
    (time - reference()).num_minutes() as f64 / 60.0
}

/// What the members' spread lacks of the floor at an instant, kn.
fn lack(days: &[Day], time: DateTime<Utc>) -> f64 {
    let speeds: Vec<f64> = days.iter().map(|day| day[index(time)].0).collect();
    let mean = speeds.iter().sum::<f64>() / speeds.len() as f64;
    let variance = speeds
        .iter()
        .map(|speed| (speed - mean) * (speed - mean))
        .sum::<f64>()
        / speeds.len() as f64;
    let (floor, _) = floor(lead(time));
    (floor * floor - variance).max(0.0).sqrt()
}

/// Probabilities of no-go and of marginal or worse over 10:00 to 16:00 and the hour of overrun.
fn probabilities(days: &[Day]) -> (f64, f64) {
    let instants: Vec<DateTime<Utc>> = (10..=17).map(at).collect();
    let (_, timing_h) = floor(lead(at(10)));
    let timing = TimeDelta::seconds((timing_h * 3600.0).round() as i64);
    let lifted = instants.iter().any(|&time| lack(days, time) > 0.0);
    let (mut no_go, mut worse) = (0.0, 0.0);
    for day in days {
        let (mut looks, mut stopped, mut cautioned) = (0.0, 0.0, 0.0);
        for shift in [-timing, TimeDelta::zero(), timing] {
            for step in NORMAL_SEVENTHS {
                if !lifted && step != 0.0 {
                    continue;
                }
                let mut worst = 0;
                for &time in &instants {
                    let bad = badness(day[index(time + shift)], step * lack(days, time));
                    // In the overrun a stop is only a caution.
                    worst = worst.max(if time > at(16) { bad.min(1) } else { bad });
                }
                looks += 1.0;
                stopped += f64::from(u8::from(worst == 2));
                cautioned += f64::from(u8::from(worst >= 1));
            }
        }
        no_go += stopped / looks / days.len() as f64;
        worse += cautioned / looks / days.len() as f64;
    }
    (no_go.max(as_they_are(days, 2)), worse.max(as_they_are(days, 1)))
}

/// Share of several members that are as bad over 10:00 to 16:00, or in the hour of overrun as bad as it counts, floors set
/// aside: the floors never make a call kinder. Nothing for one run alone.
fn as_they_are(days: &[Day], least: u8) -> f64 {
    let worst = |day: &Day| {
        let overrun = badness(day[17], 0.0).min(1);
        (10..=16)
            .map(|hour| badness(day[hour], 0.0))
            .fold(overrun, u8::max)
    };
    let bad = days.iter().filter(|day| worst(day) >= least).count();
    if days.len() > 1 {
        bad as f64 / days.len() as f64
    } else {
        0.0
    }
}

/// The call of one hour alone: 0 go, 1 marginal, 2 no-go.
fn hour_call(days: &[Day], hour: i64) -> u8 {
    let time = at(hour);
    let lack = lack(days, time);
    let looks: Vec<u8> = days
        .iter()
        .flat_map(|day| {
            let steps: &[f64] = if lack > 0.0 { &NORMAL_SEVENTHS } else { &[0.0] };
            steps
                .iter()
                .map(|step| badness(day[index(time)], step * lack))
                .collect::<Vec<_>>()
        })
        .collect();
    let plain: Vec<u8> = days.iter().map(|day| badness(day[index(time)], 0.0)).collect();
    let of = |looks: &[u8], least: u8| {
        looks.iter().filter(|bad| **bad >= least).count() as f64 / looks.len() as f64
    };
    let share = |least: u8| {
        let counted = if days.len() > 1 { of(&plain, least) } else { 0.0 };
        of(&looks, least).max(counted)
    };
    if share(2) >= 0.4 - 1e-9 {
        2
    } else {
        u8::from(share(1) >= 0.1 - 1e-9)
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    #[test]
    fn probabilities_are_those_of_a_plain_count(days in prop::collection::vec(day(), 1..7)) {
        let club = club(Floors::Default, WIND_AND_SEA);
        let outing = outing(&club);
        let source = SourceId::new("test");
        let members: Vec<Member> = (0..days.len() as u16).map(Member).collect();
        let hours = |member: Member, time| conditions(&days[usize::from(member.0)], time);
        let view = MemberView { source: &source, reference: Some(reference()), members: &members, at: &shared(&hours) };
        let verdict = decide(&outing, &Forecasts::one(view), reference());
        let (no_go, worse) = probabilities(&days);
        prop_assert!((verdict.p_no_go.unwrap_or(-1.0) - no_go).abs() < 1e-9, "{:?}, by hand {no_go}", verdict.p_no_go);
        prop_assert!((verdict.p_marginal_or_worse.unwrap_or(-1.0) - worse).abs() < 1e-9);
        let alone = |day: &Day| (10..=16).map(|hour| badness(day[hour], 0.0)).max() == Some(2);
        // One run alone past a stop makes a go marginal; with several members there is no such run here.
        let by_hand = if no_go >= 0.4 - 1e-9 {
            Call::NoGo
        } else if worse >= 0.1 - 1e-9 || (days.len() == 1 && alone(&days[0])) {
            Call::Marginal
        } else {
            Call::Go
        };
        prop_assert_eq!(verdict.call, by_hand);
    }

    #[test]
    fn windows_are_those_of_trying_every_pair_of_hours(
        days in prop::collection::vec(day(), 1..5), marginal_too in any::<bool>(), least_h in 1..5i64,
    ) {
        let club = club(Floors::Default, WIND_AND_SEA);
        let mut outing = outing(&club);
        (outing.leaves, outing.alongside) = (at(6), at(20));
        let source = SourceId::new("test");
        let members: Vec<Member> = (0..days.len() as u16).map(Member).collect();
        let hours = |member: Member, time| conditions(&days[usize::from(member.0)], time);
        let view = MemberView { source: &source, reference: Some(reference()), members: &members, at: &shared(&hours) };
        let wanted = if marginal_too { Call::Marginal } else { Call::Go };
        let at_least = TimeDelta::hours(least_h);
        let found: Vec<_> = find_windows(&outing, &view, WindowQuery { wanted, at_least })
            .into_iter()
            .map(|window| (window.from, window.to, window.call, window.holds))
            .collect();
        let most = u8::from(marginal_too);
        let good = |hour: i64| (6..=20).contains(&hour) && hour_call(&days, hour) <= most;
        let mut by_hand = Vec::new();
        for from in 6..=20 {
            for to in from + least_h..=20 {
                if (from..=to).all(good) && !good(from - 1) && !good(to + 1) {
                    let worst = (from..=to).map(|hour| hour_call(&days, hour)).max();
                    let call = if worst == Some(1) { Call::Marginal } else { Call::Go };
                    let holding = |day: &&Day| (from..=to).all(|hour| badness(day[hour as usize], 0.0) <= most);
                    let holds = days.iter().filter(holding).count() as f64 / days.len() as f64;
                    by_hand.push((at(from), at(to), call, (days.len() > 1).then_some(holds)));
                }
            }
        }
        prop_assert_eq!(found, by_hand);
    }
}
