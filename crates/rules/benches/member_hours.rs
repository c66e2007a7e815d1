//! How long the rules take: a venue, boat and level over ten days by the hour with 51 members, and how that grows with venues.
//!
//! Prints a table; decides nothing. The peer is the least that any counting could do with the same numbers in the same run: mean,
//! gust and wave of each member-hour against one bound each.

#![expect(
    clippy::print_stdout,
    clippy::expect_used,
    clippy::panic,
    reason = "a benchmark's output is its work"
)]

use chrono::{DateTime, TimeDelta, Utc};
use club::Club;
use rules::numbers::HourNumbers;
use rules::windows::call_of_members;
use rules::{Call, Judge, Outing, Sun};
use std::hint::black_box;
use std::time::Instant;

#[path = "../tests/rules/common.rs"]
#[expect(dead_code, reason = "shared with the tests, which use all of it")]
mod common;

const MEMBERS: usize = 51;
const HOURS: usize = 240;
const ROUNDS: usize = 15;

/// A tenth to nine tenths, the same at every run.
fn wobble(index: usize) -> f64 {
    let mixed = (index as u64).wrapping_mul(0x9E37_79B9_7F4A_7C15) >> 40;
    0.1 + 0.8 * (mixed as f64 / (1u64 << 24) as f64)
}

/// Winds of 4 to 28 kn, spread over the members by `spread` kn either side.
fn venue(seed: usize, spread: f64) -> Vec<(DateTime<Utc>, Vec<HourNumbers>)> {
    let hour = |index: usize| {
        let at = common::at(0) + TimeDelta::hours(index as i64);
        let middle = 4.0 + 24.0 * wobble(seed + index / 6);
        let numbers = (0..MEMBERS).map(|member| {
            let off = spread * (2.0 * wobble(seed + 7 * member + 1000 * index) - 1.0);
            let mean = (middle + off).max(0.0);
            HourNumbers::from(&common::blowing(at, mean, 1.3 * mean))
        });
        (at, numbers.collect())
    };
    (0..HOURS).map(hour).collect()
}

fn assess(judge: &Judge<'_>, venue: &[(DateTime<Utc>, Vec<HourNumbers>)]) -> usize {
    let calls = venue
        .iter()
        .map(|(at, hours)| call_of_members(judge, *at, hours, 24.0));
    calls.filter(|call| *call == Call::Go).count()
}

/// The peer.
fn three_comparisons(venue: &[(DateTime<Utc>, Vec<HourNumbers>)]) -> usize {
    let past = |hour: &&HourNumbers| {
        let over = |value: Option<f64>, bound: f64| value.is_none_or(|value| value >= bound);
        over(hour.mean.known(), 15.0) || over(hour.gust.known(), 20.0) || over(hour.wave.known(), 1.5)
    };
    let few = |hours: &Vec<HourNumbers>| 10 * hours.iter().filter(past).count() < hours.len();
    venue.iter().filter(|(_, hours)| few(hours)).count()
}

/// Median and range of the rounds, milliseconds.
fn timed(mut work: impl FnMut() -> usize) -> [f64; 3] {
    let mut took: Vec<f64> = (0..ROUNDS)
        .map(|_| {
            let started = Instant::now();
            black_box(work());
            started.elapsed().as_secs_f64() * 1000.0
        })
        .collect();
    took.sort_by(f64::total_cmp);
    [took[ROUNDS / 2], took[0], took[ROUNDS - 1]]
}

fn outing(club: &Club) -> Outing<'_> {
    Outing {
        policy: &club.policy,
        venue: &club.venues[0],
        boat: &club.boats[0],
        level: &club.levels[0],
        legs: &[],
        leaves: common::at(0),
        alongside: common::at(240),
        sun: Sun {
            rises: None,
            sets: None,
            always_down: false,
        },
    }
}

fn main() {
    let every_limit = format!(
        "{}\nsteepness = {{ caution_at = 0.05, stop_at = 0.07 }}\ncape_with_rain_j_kg = {{ caution_at = 500, stop_at = 1000 }}\n\
         visibility_m = {{ caution_at = 3000, stop_at = 1000 }}\nwind_chill_c = {{ caution_at = 4, stop_at = 0 }}\n\
         water_c = {{ caution_at = 10, stop_at = 6 }}",
        common::WIND_AND_SEA
    );
    let club = common::club(common::Floors::Default, &every_limit);
    let outing = outing(&club);
    let judge = Judge::new(&outing);
    println!(
        "| 51 members, 240 hours: 12,240 member-hours | ms, median (range) | three comparisons ms | ratio |"
    );
    println!("| --- | --- | --- | --- |");
    for (what, spread) in [
        ("members as wide as the floor", 8.0),
        ("the floor of spread in seven steps", 0.5),
    ] {
        let venue = venue(1, spread);
        let [rules, least, most] = timed(|| assess(&judge, black_box(&venue)));
        let [peer, ..] = timed(|| three_comparisons(black_box(&venue)));
        println!(
            "| {what} | {rules:.3} ({least:.3}-{most:.3}) | {peer:.3} | {:.1} |",
            rules / peer
        );
    }
    println!("\n| venues | member-hours | s, one core | us a venue |\n| --- | --- | --- | --- |");
    // Sixteen different weathers take turns: ten thousand of them at once would measure memory, not rules.
    let weathers: Vec<_> = (0..16).map(|seed| venue(1 + 97 * seed, 8.0)).collect();
    for venues in [10, 100, 1_000, 10_000] {
        let started = Instant::now();
        for index in 0..venues {
            black_box(assess(&judge, &weathers[index % weathers.len()]));
        }
        let took = started.elapsed().as_secs_f64();
        let member_hours = venues * MEMBERS * HOURS;
        println!(
            "| {venues} | {member_hours} | {took:.3} | {:.0} |",
            took * 1e6 / venues as f64
        );
    }
}
