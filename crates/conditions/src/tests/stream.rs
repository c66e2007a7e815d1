//! The stream of the club's table, the wind against it, the sea on it.

use super::support::*;
use crate::{Correction, Element, Known, Stream, VenueConditions};
use chrono::TimeDelta;
use club::waters::{HighWater, StreamRow, StreamTable};
use forecast::{Gap, Member, Parameter};
use seaway::{Bearing, Knots, Metres};

const HERE: [(f64, f64); 1] = [(40.5, -9.5)];

fn row(hour: i8, set: f64, springs: f64, neaps: f64) -> StreamRow {
    StreamRow {
        hour,
        set: Bearing::new(set),
        springs: Knots(springs),
        neaps: Knots(neaps),
    }
}

fn tide(hours: f64, range: Option<f64>) -> HighWater {
    HighWater {
        at: at_h(hours),
        range: range.map(Metres),
    }
}

fn streaming(rows: Vec<StreamRow>, ranges: Option<(f64, f64)>, tides: Vec<HighWater>) -> club::Venue {
    club::Venue {
        stream: Some(StreamTable {
            rows,
            ranges: ranges.map(|(springs, neaps)| (Metres(springs), Metres(neaps))),
        }),
        high_waters: tides,
        ..venue(&HERE)
    }
}

/// A steady stream at high water of 6 h, whatever the hour.
fn steady(set: f64, rate: f64) -> club::Venue {
    streaming(vec![row(0, set, rate, rate)], None, vec![tide(6.0, None)])
}

fn air() -> Run {
    Run::new("gfs", 2, 2, 1, &[0, 12, 24])
        .wind(12.0, 225.0)
        .constant(Parameter::Gust, 15.0 * MS)
}

fn stream_at(venue: &club::Venue, hours: f64) -> Known<Stream> {
    hour(venue, &[&air()], hours).stream.expect("a table")
}

#[track_caller]
fn flows(venue: &club::Venue, hours: f64, rate: f64, set: f64) {
    let stream = stream_at(venue, hours).expect("known").value;
    near(stream.rate.0, rate);
    near(stream.set.degrees(), set);
}

// No source: common practice, the way of the tables of tidal streams.
#[test]
fn between_two_rows_the_stream_is_linear_on_components() {
    // High water at 6 h. An hour before 2 kn to the north, at high water slack, an hour after 2 kn to the east.
    let rows = vec![
        row(-1, 0.0, 2.0, 1.0),
        row(0, 0.0, 0.0, 0.0),
        row(1, 90.0, 2.0, 1.0),
    ];
    let venue = streaming(rows, None, vec![tide(6.0, None)]);
    flows(&venue, 5.0, 2.0, 0.0);
    flows(&venue, 5.5, 1.0, 0.0);
    flows(&venue, 6.75, 1.5, 90.0);
    // Before the first row and past the last these hold.
    flows(&venue, 3.0, 2.0, 0.0);
    flows(&venue, 9.0, 2.0, 90.0);
    // Half way between 2 kn north and 2 kn east: (1, 1), 1.4142 kn to the north-east.
    let turning = streaming(
        vec![row(0, 0.0, 2.0, 2.0), row(2, 90.0, 2.0, 2.0)],
        None,
        vec![tide(6.0, None)],
    );
    flows(&turning, 7.0, std::f64::consts::SQRT_2, 45.0);
}

#[test]
fn the_rate_lies_between_neaps_and_springs_by_the_range() {
    // Springs range 4 m and run 3 kn, neaps 2 m and 1 kn: 3 m give 1 + (3 - 2)/(4 - 2) x 2 = 2 kn.
    let of = |range| {
        streaming(
            vec![row(0, 90.0, 3.0, 1.0)],
            Some((4.0, 2.0)),
            vec![tide(6.0, range)],
        )
    };
    flows(&of(Some(3.0)), 6.0, 2.0, 90.0);
    flows(&of(Some(4.0)), 6.0, 3.0, 90.0);
    flows(&of(Some(2.0)), 6.0, 1.0, 90.0);
    // Beyond both it goes on: 5 m give 4 kn, 1.2 m 0.2 kn, and 0.5 m are never less than none.
    flows(&of(Some(5.0)), 6.0, 4.0, 90.0);
    flows(&of(Some(1.2)), 6.0, 0.2, 90.0);
    near(stream_at(&of(Some(0.5)), 6.0).expect("known").value.rate.0, 0.0);
    // Without a range, or without the two ranges, springs count: the harder.
    flows(&of(None), 6.0, 3.0, 90.0);
    let unranged = streaming(vec![row(0, 90.0, 3.0, 1.0)], None, vec![tide(6.0, Some(2.0))]);
    flows(&unranged, 6.0, 3.0, 90.0);
    let upside_down = streaming(
        vec![row(0, 90.0, 3.0, 1.0)],
        Some((2.0, 4.0)),
        vec![tide(6.0, Some(3.0))],
    );
    flows(&upside_down, 6.0, 3.0, 90.0);
}

#[test]
fn the_nearest_high_water_counts_up_to_the_midpoint() {
    // High waters at 0 h and 12.4 h: up to 6.2 h the first one's last row, from there the second one's first.
    let rows = vec![row(-6, 180.0, 1.0, 1.0), row(6, 0.0, 2.0, 2.0)];
    let venue = streaming(rows, None, vec![tide(0.0, None), tide(12.4, None)]);
    flows(&venue, 6.1, 2.0, 0.0);
    flows(&venue, 6.3, 1.0, 180.0);
}

#[test]
fn without_a_high_water_near_the_stream_and_what_it_bears_on_are_missing() {
    let waves = Run::new("gfs-wave", 2, 2, 1, &[0, 12, 24])
        .constant(Parameter::WaveHeight, 1.0)
        .constant(Parameter::WavePeriod, 6.0)
        .constant(Parameter::WaveDirection, 225.0);
    let venue = streaming(vec![row(0, 225.0, 2.0, 2.0)], None, vec![tide(1.0, None)]);
    // Seven hours from 1 h are 8 h.
    let known = hour(&venue, &[&air(), &waves], 8.0);
    near(known.wind.expect("known").value.speed.0, 14.0);
    let hour = hour(&venue, &[&air(), &waves], 8.1);
    let missing = hour.stream.expect("a table").expect_err("missing");
    assert_eq!(missing.words(), "no high water listed near this hour");
    for (gap, elsewhere, expected) in [
        (gap(&hour.wind), hour.wind.err().and_then(|m| m.elsewhere), 12.0),
        (gap(&hour.gust), hour.gust.err().and_then(|m| m.elsewhere), 15.0),
        (
            gap(&hour.wave_height),
            hour.wave_height.err().and_then(|m| m.elsewhere),
            1.0,
        ),
    ] {
        assert_eq!(gap, Gap::NoHighWater);
        near(elsewhere.expect("known without the stream"), expected);
    }
    assert_eq!(gap(&hour.steepness), Gap::NoHighWater);
    // An empty table, which no file gives, is no stream of nothing.
    let empty = streaming(Vec::new(), None, vec![tide(6.0, None)]);
    assert_eq!(gap(&stream_at(&empty, 6.0)), Gap::NoHighWater);
    let none = streaming(vec![row(0, 0.0, 1.0, 1.0)], None, Vec::new());
    assert_eq!(gap(&stream_at(&none, 6.0)), Gap::NoHighWater);
}

// No source: common practice: what opposes the wind is added to it, and a stream with it takes nothing off.
#[test]
fn the_part_against_the_wind_is_added_to_mean_and_gust() {
    // Wind from 225. Setting to 225: all of 2 kn; to 285: 4 cos 60 = 2 kn; to 315: square, none; to 45: with it, none.
    for (set, rate, added) in [
        (225.0, 2.0, 2.0),
        (285.0, 4.0, 2.0),
        (315.0, 3.0, 0.0),
        (45.0, 3.0, 0.0),
        (350.0, 3.0, 0.0),
    ] {
        let hour = hour(&steady(set, rate), &[&air()], 6.0);
        let (wind, gust) = (hour.wind.expect("known"), hour.gust.expect("known"));
        near(wind.value.speed.0, 12.0 + added);
        near(gust.value.0, 15.0 + added);
        near(wind.value.from.degrees(), 225.0);
        assert_eq!(wind.notes.opposing_stream.is_some(), added > 0.0);
        assert_eq!(gust.notes.opposing_stream.is_some(), added > 0.0);
    }
}

#[test]
fn the_account_tells_the_stream() {
    let run = air();
    let slices = [run.slice.clone()];
    let conditions = VenueConditions::assemble(
        &steady(225.0, 2.0),
        &policy(),
        &slices,
        run_time(),
        (at_h(0.0), at_h(12.0)),
    );
    let set = conditions.governing();
    let trace = set.trace(&slices, Element::Gust, Member(0), at_h(6.0));
    near(trace.value.expect("known"), 17.0);
    assert_eq!(trace.corrections, [Correction::OpposingStream { knots: 2.0 }]);
    assert!(!trace.steps.is_empty());
}

fn sea(height: f64, period: Option<f64>, from: Option<f64>) -> Run {
    let run = Run::new("gfs-wave", 2, 2, 1, &[0, 12, 24]).constant(Parameter::WaveHeight, height);
    let run = match period {
        Some(period) => run.constant(Parameter::WavePeriod, period),
        None => run,
    };
    match from {
        Some(from) => run.constant(Parameter::WaveDirection, from),
        None => run,
    }
}

// Longuet-Higgins and Stewart 1961: c/c0 = (1 + sqrt(1 + 4U/c0))/2, H/H0 = c0/sqrt(c (c + 2U)), L/L0 = (c/c0)^2.
#[test]
fn a_sea_that_runs_into_the_stream_rises_and_shortens() {
    // 6 s: c0 = 9.368 m/s; 2 kn = 1.0289 m/s against: c/c0 = 0.87439, H/H0 = 1.3217; length 56.21 x 0.87439^2 = 42.97 m.
    let hour = hour(
        &steady(225.0, 2.0),
        &[&air(), &sea(1.0, Some(6.0), Some(225.0))],
        6.0,
    );
    let height = hour.wave_height.expect("known");
    near(height.value.0, 1.3217);
    near(height.notes.sea_on_stream.expect("told"), 1.3217);
    assert!(!height.notes.breaking);
    let steepness = hour.steepness.expect("known").value;
    assert!((steepness - 1.3217 / 42.97).abs() < 2e-5, "{steepness}");
    near(hour.wave_period.expect("known").value.0, 6.0);
}

#[test]
fn a_sea_that_runs_with_the_stream_or_across_it_is_taken_as_it_is() {
    for set in [45.0, 315.0, 100.0] {
        let hour = hour(
            &steady(set, 2.0),
            &[&air(), &sea(1.0, Some(6.0), Some(225.0))],
            6.0,
        );
        let height = hour.wave_height.expect("known");
        assert_eq!((height.value, height.notes.sea_on_stream), (Metres(1.0), None));
        near(hour.steepness.expect("known").value, 1.0 / 56.21);
    }
    // Nor does it need a period.
    let hour = hour(&steady(45.0, 2.0), &[&air(), &sea(1.0, None, Some(225.0))], 6.0);
    assert!(hour.wave_height.is_ok() && hour.steepness.is_err());
}

#[test]
fn what_the_sea_on_a_stream_needs_and_lacks_leaves_it_missing() {
    let height = |run: Run| hour(&steady(225.0, 2.0), &[&air(), &run], 6.0).wave_height;
    // Without a period: at least as high as on still water.
    let missing = height(sea(1.0, None, Some(225.0))).expect_err("missing");
    assert_eq!((missing.gap, missing.elsewhere), (Gap::NotInFeed, Some(1.0)));
    // Without a direction it comes with the wind, from 225.
    near(height(sea(1.0, Some(6.0), None)).expect("known").value.0, 1.3217);
    // Without wind either, nobody knows.
    let calm = [sea(1.0, Some(6.0), None)];
    let conditions = assemble(&steady(225.0, 2.0), &[&calm[0]]);
    let hour = conditions.governing().at(Member(0), at_h(6.0));
    assert_eq!(hour.wave_height.expect_err("missing").elsewhere, Some(1.0));
    // Flat water stays flat, without a period too.
    near(height(sea(0.0, None, None)).expect("known").value.0, 0.0);
}

// Blocking at a quarter of the phase speed: USACE ERDC/CHL TR-02-22; breaking at 1/7: Encyclopaedia Britannica, wave.
#[test]
fn a_stream_that_stops_the_sea_makes_it_break() {
    // 3 s: c0 = 4.684 m/s, a quarter is 2.276 kn.
    let on = |rate| {
        hour(
            &steady(225.0, rate),
            &[&air(), &sea(1.0, Some(3.0), Some(225.0))],
            6.0,
        )
    };
    let blocked = on(2.5);
    let height = blocked.wave_height.expect("known");
    assert!(height.notes.breaking);
    near(blocked.steepness.expect("known").value, 1.0 / 7.0);
    // It stands as high as the highest that still runs: a stronger stream never makes a kinder sea.
    let mut before = 1.0;
    for tenth in 0..40 {
        let found = on(f64::from(tenth) / 10.0).wave_height.expect("known").value.0;
        assert!(found >= before - 1e-5, "{tenth}: {found} after {before}");
        before = found;
    }
    // At 1/7 height and length are 1 to 7: between the highest that runs and the lowest that breaks.
    assert!((1.1..2.0).contains(&before), "{before}");
    assert!(!on(0.5).wave_height.expect("known").notes.breaking);
}

#[test]
fn properties_of_streams_on_a_grid_of_cases() {
    let still = hour(&venue(&HERE), &[&air(), &sea(0.8, Some(4.0), Some(200.0))], 6.0);
    assert!(still.stream.is_none());
    let wind = still.wind.expect("known").value.speed.0;
    let gust = still.gust.expect("known").value.0;
    let (height, steepness) = (
        still.wave_height.expect("known").value.0,
        still.steepness.expect("known").value,
    );
    for set in (0..360).step_by(15) {
        for rate in [0.0, 0.3, 1.0, 2.0, 3.5, 6.0] {
            let venue = steady(f64::from(set), rate);
            let hour = hour(&venue, &[&air(), &sea(0.8, Some(4.0), Some(200.0))], 6.0);
            assert!(hour.wind.expect("known").value.speed.0 >= wind);
            assert!(hour.gust.expect("known").value.0 >= gust);
            assert!(hour.wave_height.expect("known").value.0 >= height);
            assert!(hour.steepness.expect("known").value >= steepness);
            // Twelve hours from the only high water nothing that was known is known, and nothing missing is.
            let far = super::support::hour(&venue, &[&air(), &sea(0.8, None, None)], 18.5);
            assert!(
                far.wind.is_err() && far.gust.is_err() && far.wave_height.is_err() && far.steepness.is_err()
            );
        }
    }
}

#[test]
fn a_stream_that_a_run_gives_goes_before_the_table() {
    // 1 m/s to the east and none to the north: 1.9438 kn.
    let run = air()
        .constant(Parameter::StreamU, 1.0)
        .constant(Parameter::StreamV, 0.0);
    let stream = hour(&steady(225.0, 2.0), &[&run], 6.0)
        .stream
        .expect("a stream")
        .expect("known");
    near(stream.value.rate.0, 1.0 / MS);
    near(stream.value.set.degrees(), 90.0);
    let damaged = air()
        .by_step(Parameter::StreamU, &[Ok(1.0), Err(Gap::Damaged), Ok(1.0)])
        .constant(Parameter::StreamV, 0.0);
    let hour = hour(&steady(225.0, 2.0), &[&damaged], 6.0);
    assert_eq!(gap(&hour.stream.expect("a stream")), Gap::Damaged);
    assert_eq!(gap(&hour.wind), Gap::Damaged);
}

#[test]
fn high_waters_may_be_thousands() {
    let tides = (0..3000).map(|tide| HighWater {
        at: run_time() + TimeDelta::minutes(745 * (tide - 1500)),
        range: None,
    });
    let venue = streaming(vec![row(0, 90.0, 1.0, 1.0)], None, tides.collect());
    for hours in [0.0, 3.0, 6.2, 6.3, 12.0] {
        flows(&venue, hours, 1.0, 90.0);
    }
}
