//! Time: between steps, never past them, never over a hole.

use super::support::*;
use forecast::{Gap, Parameter};
use seaway::quantity::signed_difference;

const HERE: [(f64, f64); 1] = [(40.5, -9.5)];

#[test]
fn between_south_and_west_the_speed_does_not_drop() {
    // 26 kn from 180 and 26 kn from 270: half way the vector is 26 / sqrt 2 = 18.385 kn from 225; limits see 26 kn.
    // No source: common practice.
    let run = Run::new("gfs", 2, 2, 1, &[0, 3]).winds(&[(26.0, 180.0), (26.0, 270.0)]);
    let wind = hour(&venue(&HERE), &[&run], 1.5).wind.expect("known").value;
    near(wind.speed.0, 26.0);
    near(wind.from.degrees(), 225.0);
}

#[test]
fn between_winds_of_one_direction_it_is_linear() {
    // A third of the way from 12 to 18 kn: 14 kn.
    let run = Run::new("gfs", 2, 2, 1, &[0, 3]).winds(&[(12.0, 40.0), (18.0, 40.0)]);
    near(
        hour(&venue(&HERE), &[&run], 1.0)
            .wind
            .expect("known")
            .value
            .speed
            .0,
        14.0,
    );
}

#[test]
fn opposite_winds_keep_their_speed_and_the_nearer_direction() {
    let run = Run::new("gfs", 2, 2, 1, &[0, 2]).winds(&[(20.0, 0.0), (20.0, 180.0)]);
    let wind = hour(&venue(&HERE), &[&run], 1.0).wind.expect("known").value;
    near(wind.speed.0, 20.0);
    assert!(
        signed_difference(wind.from.degrees(), 0.0).abs() < 0.01
            || (wind.from.degrees() - 180.0).abs() < 0.01
    );
}

#[test]
fn on_a_step_that_step_alone_counts() {
    // The steps beside it are damaged.
    let u = [Err(Gap::Damaged), Ok((15.0 * MS) as f32), Err(Gap::Damaged)];
    let run = Run::new("gfs", 2, 2, 1, &[0, 3, 6])
        .by_step(Parameter::WindU, &u)
        .constant(Parameter::WindV, 0.0);
    let conditions = assemble(&venue(&HERE), &[&run]);
    let set = conditions.governing();
    near(
        set.at(forecast::Member(0), at_h(3.0))
            .wind
            .expect("known")
            .value
            .speed
            .0,
        15.0,
    );
    // A missing step is never bridged: every hour beside it is missing.
    for hours in [0.0, 0.5, 2.9, 3.1, 5.0, 6.0] {
        assert_eq!(
            gap(&set.at(forecast::Member(0), at_h(hours)).wind),
            Gap::Damaged,
            "{hours} h"
        );
    }
}

#[test]
fn nothing_is_extrapolated() {
    let run = Run::new("gfs", 2, 2, 1, &[3, 6]).wind(10.0, 90.0);
    let conditions = assemble(&venue(&HERE), &[&run]);
    let at = |hours| conditions.governing().at(forecast::Member(0), at_h(hours)).wind;
    assert_eq!(gap(&at(6.0 + 1.0 / 60.0)), Gap::BeyondRun);
    assert_eq!(gap(&at(2.0)), Gap::NotThere);
    assert!(at(3.0).is_ok() && at(6.0).is_ok());
}

#[test]
fn a_step_that_is_not_listed_leaves_a_hole() {
    // Strides 3, 6, 3: the step at 6 h was lost. Strides may lengthen with lead time (12 to 18), not shorten.
    let run = Run::new("gfs", 2, 2, 1, &[0, 3, 9, 12, 18]).wind(10.0, 90.0);
    let conditions = assemble(&venue(&HERE), &[&run]);
    let at = |hours| conditions.governing().at(forecast::Member(0), at_h(hours)).wind;
    assert_eq!(gap(&at(5.0)), Gap::NotThere);
    for hours in [2.0, 3.0, 9.0, 10.0, 15.0, 18.0] {
        assert!(at(hours).is_ok(), "{hours} h");
    }
}

#[test]
fn visibility_takes_the_worse_step_cape_the_larger_temperatures_are_linear() {
    let run = Run::new("gfs", 2, 2, 1, &[0, 2])
        .wind(10.0, 90.0)
        .by_step(Parameter::Visibility, &[Ok(20_000.0), Ok(800.0)])
        .by_step(Parameter::Cape, &[Ok(100.0), Ok(900.0)])
        .by_step(Parameter::AirTemperature, &[Ok(283.15), Ok(287.15)])
        .by_step(Parameter::DewPoint, &[Ok(281.15), Ok(283.15)])
        .by_step(Parameter::Pressure, &[Ok(101_000.0), Ok(100_800.0)]);
    let hour = hour(&venue(&HERE), &[&run], 0.5);
    near(hour.visibility.expect("known").value.0, 800.0);
    near(hour.cape_j_per_kg.expect("known").value, 900.0);
    // A quarter of the way: 10 + 1 = 11 degrees, 8 + 0.5 = 8.5 degrees, 1010 - 0.5 = 1009.5 hPa.
    near(hour.air.expect("known").value.0, 11.0);
    near(hour.dew_point.expect("known").value.0, 8.5);
    near(hour.pressure.expect("known").value.0, 1009.5);
}

#[test]
fn a_wave_direction_turns_through_north_in_time_too() {
    let waves = Run::new("gfs-wave", 2, 2, 1, &[0, 2])
        .constant(Parameter::WaveHeight, 1.0)
        .by_step(Parameter::WaveDirection, &[Ok(350.0), Ok(10.0)]);
    let from = hour(&venue(&HERE), &[&waves], 1.0)
        .wave_from
        .expect("known")
        .value
        .degrees();
    assert!(signed_difference(0.0, from).abs() < 1e-3, "found {from}");
}

#[test]
fn the_hours_of_a_run_are_whole_and_inside_span_and_run() {
    let run = Run::new("gfs", 2, 2, 1, &[3, 6, 9]).wind(10.0, 90.0);
    let slices = [run.slice];
    let span = (at_h(4.5), at_h(12.0));
    let conditions = crate::VenueConditions::assemble(&venue(&HERE), &policy(), &slices, run_time(), span);
    let hours = conditions.governing().hours_of_run();
    assert_eq!(hours, [5.0, 6.0, 7.0, 8.0, 9.0].map(at_h));
}
