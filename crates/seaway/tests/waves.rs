//! What must hold of any sea: growth never turns back, and a foul stream only makes waves worse.

#![expect(
    clippy::expect_used,
    reason = "all of this crate is a test; clippy only sees that within functions marked so"
)]

use proptest::prelude::*;
use seaway::wave_current::{
    SeaOnStream, blocking_stream, height_when_breaking, sea_on_stream, stream_along_waves, stream_ratios,
};
use seaway::wave_growth::{Blow, FetchTable, GrownSea, grown_sea};
use seaway::waves::{BREAKING_STEEPNESS, deep_water_length};
use seaway::{Bearing, DirectionFrom, Knots, Metres, MetresPerSecond, Seconds};

/// Rounding of the comparison itself.
const ROUNDING: f64 = 1e-9;

fn blows() -> impl Strategy<Value = (f64, Blow)> {
    let duration = prop::option::of((0.0..172_800.0).prop_map(Seconds));
    let depth = prop::option::of((0.3..200.0).prop_map(Metres));
    (0.0..40.0, 0.0..300_000.0, duration, depth).prop_map(|(wind, fetch, duration, depth)| {
        let fetch = Metres(fetch);
        (
            wind,
            Blow {
                fetch,
                duration,
                depth,
            },
        )
    })
}

fn sea(wind: f64, blow: Blow) -> GrownSea {
    grown_sea(MetresPerSecond(wind), blow).expect("a sea of finite values")
}

fn no_less(more: GrownSea, less: GrownSea) -> bool {
    more.height.0 >= less.height.0 * (1.0 - ROUNDING) && more.period.0 >= less.period.0 * (1.0 - ROUNDING)
}

proptest! {
    #[test]
    fn height_and_period_never_fall_with_more_wind_fetch_or_time(
        (wind, blow) in blows(), more in 0.0..1.0_f64,
    ) {
        let before = sea(wind, blow);
        prop_assert!(no_less(sea(wind + 20.0 * more, blow), before), "wind");
        let longer = Blow { fetch: Metres(blow.fetch.0 * (1.0 + more)), ..blow };
        prop_assert!(no_less(sea(wind, longer), before), "fetch");
        let later = Blow { duration: blow.duration.map(|time| Seconds(time.0 * (1.0 + more))), ..blow };
        prop_assert!(no_less(sea(wind, later), before), "duration");
        prop_assert!(no_less(sea(wind, Blow { duration: None, ..blow }), before), "duration without end");
    }

    #[test]
    fn without_fetch_wind_or_time_the_water_is_flat((wind, blow) in blows()) {
        prop_assert_eq!(sea(wind, Blow { fetch: Metres(0.0), ..blow }), GrownSea::FLAT);
        prop_assert_eq!(sea(0.0, blow), GrownSea::FLAT);
        let just_begun = sea(wind, Blow { duration: Some(Seconds(0.0)), ..blow });
        prop_assert_eq!(just_begun, GrownSea::FLAT);
    }

    #[test]
    fn over_a_table_no_sea_is_lower_than_the_one_down_the_wind(
        fetches in prop::collection::vec(0.0..30_000.0_f64, 8), wind in 0.0..30.0_f64, from in 0.0..360.0_f64,
    ) {
        let rows = fetches.iter().enumerate().map(|(index, &fetch)| {
            (DirectionFrom::new(45.0 * index as f64), Metres(fetch))
        });
        let table = FetchTable::new(rows.collect()).expect("a table");
        let from = DirectionFrom::new(from);
        let fetch = table.fetch(from);
        let longest = fetches.iter().copied().fold(0.0, f64::max);
        let (highest, _) = table.highest_sea(MetresPerSecond(wind), from, None, None).expect("a sea");
        let blow = |fetch| Blow { fetch, duration: None, depth: None };
        prop_assert!(highest.height >= sea(wind, blow(fetch)).height);
        let down_the_longest = sea(wind, blow(Metres(longest))).height;
        prop_assert!(highest.height.0 <= down_the_longest.0 * (1.0 + ROUNDING));
    }

    #[test]
    fn against_a_stream_waves_rise_and_steepen_until_they_are_blocked(
        period in 1.0..15.0_f64, less in 0.0..0.99_f64, more in 0.0..0.99_f64,
    ) {
        let period = Seconds(period);
        let blocking = blocking_stream(period).0;
        let ratios = |part: f64| stream_ratios(period, MetresPerSecond(part * blocking));
        let (less, more) = (less.min(more), less.max(more));
        let (slow, fast) = (ratios(less).expect("runs"), ratios(more).expect("runs"));
        prop_assert!(slow.height >= 1.0 - ROUNDING && fast.height >= slow.height - ROUNDING);
        prop_assert!(fast.steepness() >= slow.steepness() - ROUNDING);
        prop_assert!(ratios(1.0).is_none() && ratios(1.0 + more).is_none());
        let blocked = sea_on_stream(Metres(1.0), period, MetresPerSecond(blocking));
        prop_assert_eq!(blocked, Some(SeaOnStream::Blocked));
    }

    #[test]
    fn with_a_stream_waves_get_lower_and_longer(period in 1.0..15.0_f64, stream in 0.01..5.0_f64) {
        let ratios = stream_ratios(Seconds(period), MetresPerSecond(stream)).expect("runs");
        prop_assert!(ratios.height < 1.0 && ratios.length > 1.0 && ratios.steepness() < 1.0);
    }

    #[test]
    fn waves_that_run_on_are_never_as_steep_as_breaking_ones(
        height in 0.0..4.0_f64, period in 1.0..12.0_f64, stream in -3.0..3.0_f64,
    ) {
        let found = sea_on_stream(Metres(height), Seconds(period), MetresPerSecond(stream));
        let steepness = found.expect("finite values").steepness();
        prop_assert!(steepness.is_none_or(|steepness| steepness < BREAKING_STEEPNESS));
    }
}

/// Ratios follow from two laws: the period over the ground stays, and so does wave action. The dispersion relation is
/// solved here by halving instead of by its closed form. Source of the laws: Longuet-Higgins and Stewart 1961, from memory.
#[test]
fn ratios_agree_with_dispersion_and_action_solved_by_halving() {
    let gravity = 9.81_f64;
    for (period, stream) in [(4.0, -1.0), (5.0, -1.2), (6.0, 1.0), (8.0, 2.5), (3.0, -0.9)] {
        let ground = std::f64::consts::TAU / period;
        let deep = ground * ground / gravity;
        // sqrt(g k) + k U = the frequency over the ground, on the branch of waves whose energy still gains on the stream.
        let turns = if stream < 0.0 {
            gravity / (4.0 * stream * stream)
        } else {
            deep
        };
        let (mut low, mut high) = (0.0, turns);
        for _ in 0..200 {
            let middle = (low + high) / 2.0;
            if (gravity * middle).sqrt() + middle * stream < ground {
                low = middle
            } else {
                high = middle
            }
        }
        let (number, water) = (low, (gravity * low).sqrt());
        let energy_speed = stream + water / number / 2.0;
        let still_energy_speed = ground / deep / 2.0;
        // E (U + cg) / sigma is kept; the height goes with the root of E.
        let height = (still_energy_speed / energy_speed * water / ground).sqrt();
        let found = stream_ratios(Seconds(period), MetresPerSecond(stream)).expect("runs");
        assert!(
            (found.height - height).abs() < 1e-6,
            "{period} s: {} and {height}",
            found.height
        );
        assert!(
            (found.length - deep / number).abs() < 1e-6,
            "{period} s: {}",
            found.length
        );
    }
}

#[test]
fn only_the_part_of_a_stream_along_the_waves_counts() {
    let along = |set| {
        Knots::from(stream_along_waves(
            Knots(2.0),
            Bearing::new(set),
            DirectionFrom::new(250.0),
        ))
        .0
    };
    for (set, expected) in [
        (70.0, 2.0),
        (250.0, -2.0),
        (160.0, 0.0),
        (130.0, 1.0),
        (310.0, -1.0),
    ] {
        assert!(
            (along(set) - expected).abs() < ROUNDING,
            "set {set}: {}",
            along(set)
        );
    }
}

#[test]
fn steep_seas_break_before_they_are_blocked() {
    // By hand: 5 s are 39.03 m long; 2 kn against them double the steepness (check value), so 3 m (1/13) come to 1/6.5.
    let against = |height| sea_on_stream(Metres(height), Seconds(5.0), Knots(-2.0).into());
    assert_eq!(against(3.0), Some(SeaOnStream::Breaks));
    assert!(
        matches!(against(1.0), Some(SeaOnStream::Runs { height, .. }) if (height.0 - 1.4292).abs() < 0.001)
    );
    let still = sea_on_stream(Metres(1.0), Seconds(5.0), MetresPerSecond(0.0));
    let length = deep_water_length(Seconds(5.0));
    let height = Metres(1.0);
    assert_eq!(still, Some(SeaOnStream::Runs { height, length }));
}

#[test]
fn a_table_is_read_between_its_directions_and_through_north() {
    let table = FetchTable::new(vec![
        (DirectionFrom::new(90.0), Metres(3000.0)),
        (DirectionFrom::new(350.0), Metres(1000.0)),
        (DirectionFrom::new(10.0), Metres(2000.0)),
    ])
    .expect("a table");
    for (from, expected) in [
        (350.0, 1000.0),
        (0.0, 1500.0),
        (10.0, 2000.0),
        (50.0, 2500.0),
        (220.0, 2000.0),
    ] {
        let found = table.fetch(DirectionFrom::new(from)).0;
        assert!((found - expected).abs() < 1e-6, "{from}: {found}");
    }
    let twice = (DirectionFrom::new(5.0), Metres(1.0));
    assert_eq!(FetchTable::new(vec![twice, twice]), None);
    assert_eq!(FetchTable::new(vec![]), None);
    assert_eq!(
        FetchTable::new(vec![(DirectionFrom::new(5.0), Metres(f64::NAN))]),
        None
    );
    assert_eq!(
        FetchTable::new(vec![(DirectionFrom::new(5.0), Metres(-1.0))]),
        None
    );
}

#[test]
fn down_a_long_water_a_wind_at_an_angle_raises_its_sea_along_it() {
    // A fjord that runs north and south, 20 km by 1 km. Geometry, no source.
    let rows = [
        (0.0, 20_000.0),
        (90.0, 1000.0),
        (180.0, 20_000.0),
        (270.0, 1000.0),
        (40.0, 1500.0),
    ];
    let rows = rows.map(|(from, fetch)| (DirectionFrom::new(from), Metres(fetch)));
    let table = FetchTable::new(rows.to_vec()).expect("a table");
    let sea = table.highest_sea(MetresPerSecond(12.0), DirectionFrom::new(40.0), None, None);
    assert_eq!(sea.map(|(_, from)| from.degrees()), Some(0.0));
}

#[test]
fn values_that_make_no_sense_give_no_sea() {
    let blow = |fetch, duration, depth| Blow {
        fetch: Metres(fetch),
        duration: Some(Seconds(duration)),
        depth: Some(Metres(depth)),
    };
    let good = blow(1000.0, 3600.0, 5.0);
    assert!(grown_sea(MetresPerSecond(10.0), good).is_some());
    for wind in [-1.0, -20.0, f64::NAN, f64::INFINITY] {
        assert_eq!(grown_sea(MetresPerSecond(wind), good), None, "{wind}");
    }
    let bad = [
        blow(-1.0, 3600.0, 5.0),
        blow(1000.0, -1.0, 5.0),
        blow(1000.0, 3600.0, 0.0),
        blow(f64::NAN, 3600.0, 5.0),
        blow(1000.0, f64::NAN, 5.0),
        blow(1000.0, 3600.0, f64::NAN),
    ];
    for blow in bad {
        assert_eq!(grown_sea(MetresPerSecond(10.0), blow), None, "{blow:?}");
    }
    for (height, period, stream) in [
        (f64::NAN, 5.0, 0.0),
        (-1.0, 5.0, 0.0),
        (1.0, 0.0, 0.0),
        (1.0, 5.0, f64::NAN),
    ] {
        assert_eq!(
            sea_on_stream(Metres(height), Seconds(period), MetresPerSecond(stream)),
            None
        );
    }
}

/// At the height at which they break, waves are as steep as 1/7, which is what breaking means here (Encyclopaedia Britannica, wave): a
/// hair less stream lets them run, a hair more does not.
#[test]
fn waves_break_at_the_greatest_height_that_a_stream_gives_them() {
    for (height, period) in [(0.3, 3.0), (1.0, 3.0), (1.0, 6.0), (2.5, 8.0)] {
        let (height, period) = (Metres(height), Seconds(period));
        let breaking = height_when_breaking(height, period).expect("valid").0;
        let mut highest = height.0;
        let blocking = blocking_stream(period).0;
        for thousandth in 0..1000 {
            let along = MetresPerSecond(blocking * f64::from(thousandth) / 1000.0);
            if let Some(SeaOnStream::Runs { height, .. }) = sea_on_stream(height, period, along) {
                highest = highest.max(height.0);
            }
        }
        assert!(
            breaking >= highest && breaking <= 1.01 * highest,
            "{breaking} {highest}"
        );
    }
    // Already steeper than 1/7 on still water: 1 m over 9.81 x 2 x 2 / (2 pi) = 6.25 m. Flat water stays flat.
    assert_eq!(height_when_breaking(Metres(1.0), Seconds(2.0)), Some(Metres(1.0)));
    assert_eq!(height_when_breaking(Metres(0.0), Seconds(5.0)), Some(Metres(0.0)));
    assert_eq!(height_when_breaking(Metres(1.0), Seconds(0.0)), None);
    assert_eq!(height_when_breaking(Metres(f64::NAN), Seconds(5.0)), None);
}
