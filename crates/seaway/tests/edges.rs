//! Where physics has no answer, the answer is none and never a wrong number. No source: definitions and geometry.

use seaway::apparent::{WindOffBow, apparent_off_bow, true_off_bow};
use seaway::beaufort::{force, force_of_whole_knots, name, sea_state};
use seaway::cold::wind_chill;
use seaway::profile::{FORECAST_HEIGHT, at_height, log_law_ratio};
use seaway::waves::steepness;
use seaway::{Celsius, Knots, Metres, MetresPerSecond, Seconds};

#[test]
fn no_number_gives_no_number() {
    assert_eq!(steepness(Metres(1.0), Seconds(0.0)), None);
    assert_eq!(steepness(Metres(1.0), Seconds(f64::NAN)), None);
    assert_eq!(steepness(Metres(-1.0), Seconds(5.0)), None);
    assert_eq!(sea_state(Metres(f64::NAN)), None);
    assert_eq!(sea_state(Metres(-0.1)), None);
    assert_eq!(wind_chill(Celsius(f64::NAN), Knots(20.0)), None);
    assert_eq!(wind_chill(Celsius(5.0), Knots(f64::INFINITY)), None);
    assert_eq!(force(MetresPerSecond(f64::NAN)), 0);
}

#[test]
fn a_wind_is_carried_up_only_where_the_log_law_holds() {
    for (speed, height) in [
        (f64::NAN, 15.0),
        (-1.0, 15.0),
        (10.0, 0.5),
        (10.0, 150.0),
        (10.0, f64::NAN),
    ] {
        assert_eq!(
            at_height(MetresPerSecond(speed), FORECAST_HEIGHT, Metres(height)),
            None,
            "{speed} at {height}"
        );
    }
    assert_eq!(log_law_ratio(Metres(0.0001), Metres(15.0), Metres(0.0002)), None);
    assert_eq!(log_law_ratio(Metres(10.0), Metres(15.0), Metres(0.0)), None);
}

#[test]
fn more_height_means_more_wind_and_there_and_back_is_no_journey() {
    for speed in [0.0, 0.5, 3.0, 10.0, 25.0, 60.0] {
        let at = |speed, from, to| {
            at_height(MetresPerSecond(speed), Metres(from), Metres(to))
                .expect("defined")
                .0
        };
        let masthead = at(speed, 10.0, 18.0);
        assert!(
            masthead >= speed && masthead <= speed * 1.2,
            "{speed} becomes {masthead}"
        );
        assert!(
            (at(masthead, 18.0, 10.0) - speed).abs() < 1e-6 * speed.max(1.0),
            "{speed}"
        );
    }
}

#[test]
fn true_and_apparent_undo_each_other() {
    for speed in [0.5, 7.0, 20.0] {
        for angle_deg in [-179.0, -90.0, -31.0, 0.0, 45.0, 135.0, 180.0] {
            let wind = WindOffBow {
                speed: Knots(speed),
                angle_deg,
            };
            let back = true_off_bow(apparent_off_bow(wind, Knots(5.5)), Knots(5.5));
            assert!(
                (back.speed.0 - speed).abs() < 1e-9 && (back.angle_deg - angle_deg).abs() < 1e-6,
                "{wind:?}"
            );
        }
    }
}

#[test]
fn forces_never_fall_as_the_wind_rises() {
    let by_tenths: Vec<u8> = (0..500)
        .map(|tenths| force(MetresPerSecond(f64::from(tenths) / 10.0)))
        .collect();
    assert!(by_tenths.is_sorted() && by_tenths[0] == 0 && by_tenths[499] == 12);
    assert!((0..120).map(force_of_whole_knots).is_sorted());
    assert_eq!(name(12), name(200));
}

/// The equation itself is the check, from ripples in puddles to swell over the deep sea.
#[test]
fn a_wave_over_any_depth_has_the_length_that_its_equation_asks_for() {
    let mut checked = 0;
    for tenths in -20..=40 {
        for period in [0.3, 1.0, 3.0, 8.0, 20.0] {
            let depth = 10f64.powf(f64::from(tenths) / 10.0);
            let deep = seaway::waves::deep_water_length(Seconds(period)).0;
            let length = seaway::waves::length_over(Metres(depth), Seconds(period))
                .expect("a length")
                .0;
            let asked = deep * (std::f64::consts::TAU * depth / length).tanh();
            assert!(
                (length - asked).abs() <= 1e-9 * deep,
                "{depth} m, {period} s: {length} and {asked}"
            );
            checked += 1;
        }
    }
    assert_eq!(checked, 305);
    for (depth, period) in [
        (0.0, 5.0),
        (-1.0, 5.0),
        (f64::NAN, 5.0),
        (3.0, 0.0),
        (3.0, f64::INFINITY),
        (3.0, 1e-200),
    ] {
        assert_eq!(
            seaway::waves::length_over(Metres(depth), Seconds(period)),
            None,
            "{depth} m, {period} s"
        );
    }
}

#[test]
fn what_is_no_number_has_no_term_no_dew_point_and_no_time() {
    assert_eq!(seaway::air::VisibilityTerm::of(Metres(f64::NAN)), None);
    assert_eq!(seaway::air::VisibilityTerm::of(Metres(-1.0)), None);
    for humidity in [0.0, -0.1, 1.1, f64::NAN] {
        assert_eq!(
            seaway::air::dew_point(Celsius(20.0), humidity),
            None,
            "{humidity}"
        );
    }
    assert_eq!(seaway::air::dew_point(Celsius(f64::NAN), 0.5), None);
    assert_eq!(seaway::cold::time_in_water(Celsius(f64::NAN)), None);
    assert_eq!(seaway::cold::time_in_water(Celsius(27.0)), None);
    for share in [0.0, -1.0, 1.5, f64::NAN] {
        assert_eq!(
            seaway::waves::exceeded_height(Metres(1.0), share),
            None,
            "{share}"
        );
    }
}

/// Source: by definition, Rust's own remainder (`f64::rem_euclid`), bit for bit.
#[test]
fn an_angle_is_brought_into_one_turn_as_the_remainder_of_its_division() {
    let turns: [f64; 6] = [-1080.0, -720.0, -360.0, 0.0, 360.0, 720.0];
    let shares = [
        0.0,
        -0.0,
        1.0e-300,
        -1.0e-300,
        1.0e-14,
        0.1,
        59.999,
        180.0,
        359.999_999_999,
    ];
    for degrees in turns.iter().flat_map(|turn| shares.map(|share| turn + share)) {
        let expected = match degrees.rem_euclid(360.0) {
            turned if turned >= 360.0 => 0.0,
            turned => turned,
        };
        let found = seaway::quantity::normalise_degrees(degrees);
        assert_eq!(found.to_bits(), expected.to_bits(), "{degrees}");
    }
    assert!(seaway::quantity::normalise_degrees(f64::INFINITY).is_nan());
}
