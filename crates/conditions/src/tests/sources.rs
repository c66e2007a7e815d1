//! Which source and which run serves what, and when a run is too old.

use super::support::*;
use crate::{SourceUse, VenueConditions};
use chrono::TimeDelta;
use forecast::{Gap, Member, Parameter, Process, RunSlice, SourceId};

const HERE: [(f64, f64); 1] = [(40.5, -9.5)];
const LONG: [u16; 5] = [0, 24, 48, 72, 96];

fn conditions(runs: &[Run], now_h: f64, span_h: (f64, f64)) -> VenueConditions {
    let slices: Vec<RunSlice> = runs.iter().map(|run| run.slice.clone()).collect();
    VenueConditions::assemble(
        &venue(&HERE),
        &policy(),
        &slices,
        at_h(now_h),
        (at_h(span_h.0), at_h(span_h.1)),
    )
}

#[test]
fn the_ensemble_gives_wind_and_the_named_runs_the_rest_without_spread() {
    let ensemble = Run::new("gefs", 2, 2, 3, &[0, 3])
        .field(Parameter::WindU, |_, member, _| {
            Ok(((10.0 + 2.0 * member as f64) * MS) as f32)
        })
        .constant(Parameter::WindV, 0.0)
        .field(Parameter::Pressure, |_, member, _| {
            Ok(101_000.0 + 100.0 * member as f32)
        });
    let finest = Run::new("gfs", 2, 2, 1, &[0, 3])
        .wind(11.0, 270.0)
        .constant(Parameter::Visibility, 9000.0)
        .constant(Parameter::Pressure, 100_000.0);
    let waves = Run::new("gfs-wave", 2, 2, 1, &[0, 3]).constant(Parameter::WaveHeight, 0.8);
    let conditions = assemble(&venue(&HERE), &[&waves, &finest, &ensemble]);
    let set = conditions.ensemble().expect("an ensemble");
    assert_eq!((set.source.as_str(), set.members.len()), ("gefs", 3));
    let hour = set.at(Member(2), at_h(1.0));
    let wind = hour.wind.expect("known");
    near(wind.value.speed.0, 14.0);
    assert!(wind.source.as_str() == "gefs" && !wind.notes.no_spread);
    let height = hour.wave_height.expect("known");
    assert!(height.source.as_str() == "gfs-wave" && height.notes.no_spread);
    assert!(hour.visibility.expect("known").notes.no_spread);
    // The ensemble has pressure: it is the member's own, 1010 + 2 hPa.
    let pressure = hour.pressure.expect("known");
    near(pressure.value.0, 1012.0);
    assert!(!pressure.notes.no_spread);
    // The deterministic run alone says nothing of a spread and claims none.
    let finest = conditions.deterministic().expect("a run");
    let hour = finest.at(Member(0), at_h(1.0));
    near(hour.wind.expect("known").value.speed.0, 11.0);
    assert!(!hour.wave_height.expect("known").notes.no_spread);
}

#[test]
fn a_members_gap_is_not_filled_from_the_finest_run() {
    let ensemble = Run::new("gefs", 2, 2, 2, &[0, 3])
        .field(Parameter::WindU, |_, member, _| {
            if member == 1 { Err(Gap::Damaged) } else { Ok(5.0) }
        })
        .constant(Parameter::WindV, 0.0)
        .field(Parameter::Pressure, |_, member, _| {
            if member == 1 {
                Err(Gap::Damaged)
            } else {
                Ok(101_000.0)
            }
        });
    let finest = Run::new("gfs", 2, 2, 1, &[0, 3])
        .wind(11.0, 270.0)
        .constant(Parameter::Pressure, 100_000.0);
    let conditions = assemble(&venue(&HERE), &[&ensemble, &finest]);
    let hour = conditions
        .ensemble()
        .expect("an ensemble")
        .at(Member(1), at_h(1.0));
    assert_eq!(gap(&hour.wind), Gap::Damaged);
    assert_eq!(gap(&hour.pressure), Gap::Damaged);
    assert_eq!(
        hour.pressure.expect_err("missing").source,
        Some(SourceId::new("gefs"))
    );
}

#[test]
fn what_no_source_has_is_missing_and_says_so() {
    let finest = Run::new("gfs", 2, 2, 1, &[0, 3]).wind(11.0, 270.0);
    let hour = hour(&venue(&HERE), &[&finest], 1.0);
    assert_eq!(gap(&hour.wave_height), Gap::NoRun);
    assert_eq!(gap(&hour.visibility), Gap::NotInFeed);
    assert_eq!(
        hour.visibility.expect_err("missing").words(),
        "gfs: not in the feed"
    );
}

#[test]
fn without_any_wind_the_sea_is_still_known() {
    let waves = Run::new("gfs-wave", 2, 2, 1, &[0, 3]).constant(Parameter::WaveHeight, 3.5);
    let conditions = assemble(&venue(&HERE), &[&waves]);
    assert!(conditions.ensemble().is_none() && conditions.deterministic().is_none());
    let set = conditions.governing();
    let hour = set.at(set.members[0], at_h(1.0));
    assert_eq!(gap(&hour.wind), Gap::NoRun);
    assert_eq!(gap(&hour.gust), Gap::NoRun);
    near(hour.wave_height.expect("known").value.0, 3.5);
}

#[test]
fn a_run_is_too_old_by_lead() {
    // Policy: 16 h for valid times up to 48 h ahead, 22 h beyond. Reference 0 h.
    let at = |now_h: f64, valid_h: f64| {
        let run = Run::new("gfs", 2, 2, 1, &LONG).wind(10.0, 90.0);
        conditions(&[run], now_h, (now_h, 96.0))
            .governing()
            .at(Member(0), at_h(valid_h))
            .wind
    };
    assert!(at(16.0, 20.0).is_ok());
    assert_eq!(gap(&at(16.1, 20.0)), Gap::RunTooOld);
    // At 20 h, 68 h is 48 h ahead: near; a minute later is far.
    assert_eq!(gap(&at(20.0, 68.0)), Gap::RunTooOld);
    assert!(at(20.0, 68.1).is_ok());
    assert_eq!(gap(&at(22.1, 90.0)), Gap::RunTooOld);
}

#[test]
fn too_old_holds_for_waves_and_weather_too() {
    let fresh = Run::new("gfs", 2, 2, 1, &LONG)
        .wind(10.0, 90.0)
        .constant(Parameter::Visibility, 5000.0)
        .issued(12);
    let old = Run::new("gfs-wave", 2, 2, 1, &LONG).constant(Parameter::WaveHeight, 1.0);
    let conditions = conditions(&[fresh, old], 20.0, (20.0, 30.0));
    let hour = conditions.governing().at(Member(0), at_h(24.0));
    assert!(hour.wind.is_ok() && hour.visibility.is_ok());
    assert_eq!(gap(&hour.wave_height), Gap::RunTooOld);
    let expected = SourceUse {
        source: SourceId::new("gfs-wave"),
        reference: Some(run_time()),
        unusable: Some(Gap::RunTooOld),
    };
    assert!(
        conditions.sources().contains(&expected),
        "{:?}",
        conditions.sources()
    );
}

#[test]
fn the_newest_run_that_reaches_the_end_of_the_span_is_taken() {
    let old = || Run::new("gfs", 2, 2, 1, &LONG).wind(10.0, 90.0);
    let new = || Run::new("gfs", 2, 2, 1, &[0, 24]).wind(20.0, 90.0).issued(6);
    let speed = |span: (f64, f64), valid: f64| {
        // In any order.
        let one = conditions(&[old(), new()], 8.0, span)
            .governing()
            .at(Member(0), at_h(valid))
            .wind;
        let other = conditions(&[new(), old()], 8.0, span)
            .governing()
            .at(Member(0), at_h(valid))
            .wind;
        assert_eq!(one, other);
        one.map(|wind| wind.value.speed.0.round())
    };
    assert_eq!(speed((10.0, 20.0), 12.0), Ok(20.0));
    // A span that begins before the newer run was issued does not send it back to the older one.
    assert_eq!(speed((2.0, 20.0), 12.0), Ok(20.0));
    // The newer run is still appearing and ends at 30 h: the complete one serves a span that goes further.
    assert_eq!(speed((40.0, 50.0), 45.0), Ok(10.0));
    // A run from after `now` is not known yet.
    let conditions = conditions(&[old(), new()], 5.0, (10.0, 20.0));
    assert_eq!(conditions.governing().reference, Some(run_time()));
}

#[test]
fn where_the_ensemble_is_too_old_the_next_source_serves() {
    let ensemble = Run::new("gefs", 2, 2, 3, &LONG).wind(10.0, 90.0);
    let finest = Run::new("gfs", 2, 2, 1, &LONG).wind(14.0, 90.0).issued(12);
    let conditions = conditions(&[ensemble, finest], 18.0, (20.0, 26.0));
    assert!(conditions.ensemble().is_none());
    assert_eq!(conditions.governing().source.as_str(), "gfs");
}

#[test]
fn policy_order_is_followed_and_a_reading_names_its_source() {
    let mut policy = policy();
    policy.wave_sources = vec!["coastal-wave".into(), "gfs-wave".into()];
    let first = Run::new("coastal-wave", 2, 2, 1, &[0, 3])
        .by_step(Parameter::WaveHeight, &[Ok(1.0), Err(Gap::Damaged)]);
    let second = Run::new("gfs-wave", 2, 2, 1, &[0, 3]).constant(Parameter::WaveHeight, 2.0);
    let slices = [first.slice, second.slice];
    let conditions = VenueConditions::assemble(
        &venue(&HERE),
        &policy,
        &slices,
        run_time(),
        (at_h(0.0), at_h(3.0)),
    );
    let height = |time| {
        conditions
            .governing()
            .at(Member(0), time)
            .wave_height
            .expect("known")
    };
    assert_eq!(height(at_h(0.0)).source.as_str(), "coastal-wave");
    assert_eq!(
        height(at_h(0.0) + TimeDelta::hours(1)).source.as_str(),
        "gfs-wave"
    );
}

#[test]
fn the_part_of_a_run_that_a_span_needs_says_the_same_as_the_whole_run() {
    // Hourly steps, a 6 h rain bucket, 1 h gust maxima, the land mask at step 0 only: what `explain` keeps.
    let steps: Vec<u16> = (0..=24).collect();
    let run = Run::new("gfs", 2, 2, 1, &steps)
        .field(Parameter::WindU, |_, _, step| Ok(5.0 + step as f32 / 3.0))
        .constant(Parameter::WindV, 2.0)
        .field(Parameter::Gust, |_, _, step| Ok(9.0 + (step * 7 % 5) as f32))
        .intervals(Parameter::Gust, Process::Maximum, |step| {
            (step > 0).then(|| (step - 1, step))
        })
        .field(Parameter::Precipitation, |_, _, step| {
            if step == 0 {
                Err(Gap::NotInFeed)
            } else {
                Ok(((step - 1) % 6 + 1) as f32)
            }
        })
        .intervals(Parameter::Precipitation, Process::Accumulation, |step| {
            (step > 0).then(|| ((step - 1) / 6 * 6, step))
        })
        .field(Parameter::LandShare, |(_, column), _, step| {
            if step == 0 {
                Ok(column as f32)
            } else {
                Err(Gap::NotInFeed)
            }
        });
    let span = (at_h(9.0), at_h(15.0));
    let hours_of = |slice: RunSlice| {
        let conditions = VenueConditions::assemble(&venue(&HERE), &policy(), &[slice], run_time(), span);
        // Strictly inside: on an end of the span an interval outside it would count too.
        let hour = |half_hours: i64| at_h(9.0) + TimeDelta::minutes(30 * half_hours);
        (1..12)
            .map(|half| conditions.governing().at(Member(0), hour(half)))
            .collect::<Vec<_>>()
    };
    let whole = hours_of(run.slice.clone());
    assert!(
        whole
            .iter()
            .all(|hour| hour.wind.is_ok() && hour.gust.is_ok() && hour.rain_mm_per_h.is_ok())
    );
    // From three hours before, where the wind is that a front is told by (policy).
    assert_eq!(hours_of(run.slice.cut(at_h(6.0), span.1)), whole);
}

#[test]
fn a_regional_run_is_too_old_sooner_near_and_far() {
    // Policy: 9 h, where a global run has 16 h and 22 h.
    let at = |source: &str, now_h: f64, valid_h: f64| {
        let mut policy = policy();
        policy.wind_sources = vec![source.to_owned()];
        let slices = [Run::new(source, 2, 2, 1, &LONG).wind(10.0, 90.0).slice];
        let span = (at_h(now_h), at_h(96.0));
        let conditions = VenueConditions::assemble(&venue(&HERE), &policy, &slices, at_h(now_h), span);
        conditions.governing().at(Member(0), at_h(valid_h)).wind
    };
    for source in ["icon-eu", "icon-eu-native", "icon-d2-native", "own-coast"] {
        assert!(at(source, 9.0, 12.0).is_ok(), "{source}");
        assert_eq!(gap(&at(source, 9.1, 12.0)), Gap::RunTooOld, "{source}");
        assert_eq!(gap(&at(source, 9.1, 90.0)), Gap::RunTooOld, "{source}");
    }
    assert!(at("ecmwf-ifs", 9.1, 12.0).is_ok());
}

#[test]
fn each_quantity_comes_from_the_first_source_of_its_own_list_that_has_it() {
    let mut policy = policy();
    policy.wind_sources = vec!["icon-eu".into()];
    policy.deterministic_sources = vec!["icon-eu".into()];
    policy.weather_sources = vec!["icon-eu".into(), "gfs".into()];
    policy.wave_sources = vec!["ewam".into(), "gfs-wave".into()];
    let regional = Run::new("icon-eu", 2, 2, 1, &[0, 3])
        .wind(10.0, 90.0)
        .constant(Parameter::AirTemperature, 290.15)
        .by_step(Parameter::Cape, &[Ok(100.0), Err(Gap::Damaged)]);
    let global = Run::new("gfs", 2, 2, 1, &[0, 3])
        .wind(20.0, 90.0)
        .constant(Parameter::AirTemperature, 280.15)
        .constant(Parameter::Visibility, 9000.0);
    let coastal = Run::new("ewam", 2, 2, 1, &[0, 3]).constant(Parameter::WaveHeight, 0.6);
    let ocean = Run::new("gfs-wave", 2, 2, 1, &[0, 3])
        .constant(Parameter::WaveHeight, 0.9)
        .constant(Parameter::WavePeriod, 6.0);
    // In any order of the slices.
    for turned in 0..4 {
        let mut slices: Vec<RunSlice> = [&regional, &global, &coastal, &ocean]
            .into_iter()
            .map(|run| run.slice.clone())
            .collect();
        slices.rotate_left(turned);
        let span = (at_h(0.0), at_h(3.0));
        let conditions = VenueConditions::assemble(&venue(&HERE), &policy, &slices, run_time(), span);
        let hour = conditions.governing().at(Member(0), at_h(1.0));
        let source = |known: Result<SourceId, crate::Missing>| known.expect("known").to_string();
        assert_eq!(source(hour.wind.map(|r| r.source)), "icon-eu");
        assert_eq!(source(hour.air.map(|r| r.source)), "icon-eu");
        // The first never has visibility: the second's counts.
        assert_eq!(source(hour.visibility.map(|r| r.source)), "gfs");
        assert_eq!(source(hour.wave_height.map(|r| r.source)), "ewam");
        assert_eq!(source(hour.wave_period.map(|r| r.source)), "gfs-wave");
        // Damaged in the first and never in the second: the damage is told.
        assert_eq!(gap(&hour.cape_j_per_kg), Gap::Damaged);
        // In neither: not in the feed.
        assert_eq!(gap(&hour.rain_mm_per_h), Gap::NotInFeed);
    }
}

#[test]
fn conditions_from_the_runs_used_are_those_from_all() {
    let far = [0, 3, 6, 9, 12];
    let with_mask = Run::new("gfs", 2, 2, 1, &far).wind(20.0, 90.0).field(
        Parameter::LandShare,
        |(_, column), _, step| match step {
            0 => Ok(if column == 0 { 1.0 } else { 0.0 }),
            _ => Err(Gap::NotInFeed),
        },
    );
    let serving = Run::new("gfs", 2, 2, 1, &far)
        .field(Parameter::WindU, |(_, column), _, _| Ok(-10.0 - column as f32))
        .constant(Parameter::WindV, 0.0)
        .issued(6);
    // The newest has only begun; an ensemble is too old.
    let begun = Run::new("gfs", 2, 2, 1, &[0]).wind(5.0, 90.0).issued(9);
    let old = Run::new("gefs", 2, 2, 3, &[0, 30]).wind(30.0, 90.0).issued(-18);
    let slices = [begun, old, with_mask, serving].map(|run| run.slice);
    let (now, span) = (at_h(9.5), (at_h(10.0), at_h(12.0)));
    let used = crate::runs_used(&policy(), &slices, now, span);
    let mut named: Vec<(String, i64, usize)> = used
        .iter()
        .map(|run| {
            let hours = (run.reference - run_time()).num_hours();
            (run.source.to_string(), hours, run.nodes[0].fields.len())
        })
        .collect();
    named.sort();
    // Of the oldest run only the land mask, which the one that serves lacks.
    let expected = [("gefs", -18, 2), ("gfs", 0, 1), ("gfs", 6, 2)];
    assert_eq!(
        named,
        expected.map(|(source, hours, fields)| (source.to_owned(), hours, fields))
    );
    let assembled =
        |slices: &[RunSlice]| VenueConditions::assemble(&venue(&HERE), &policy(), slices, now, span);
    let (all, few) = (assembled(&slices), assembled(&used));
    assert_eq!(all.sources(), few.sources());
    for hours in [10.0, 11.0, 12.0] {
        let at = |conditions: &VenueConditions| conditions.governing().at(Member(0), at_h(hours));
        assert_eq!(at(&all), at(&few));
    }
    let wind = few.governing().at(Member(0), at_h(11.0)).wind.expect("known");
    assert!(!wind.notes.no_land_mask);
    // From the runs used those used are the same.
    assert_eq!(crate::runs_used(&policy(), &used, now, span).len(), used.len());
}
