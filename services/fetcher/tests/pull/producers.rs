//! ECMWF's and DWD's trees over HTTP: values at `home-pool` against the shared set's expected values, which come from the
//! formulas of the invented week and were checked with ecCodes; tolerances are those its papers give for packing.

use crate::feeds_at::{Pulled, pull_from, replica_of};
use crate::tree::{at, rows, sample, shared};
use forecast::{Gap, Parameter, RunSlice};
use std::collections::HashMap;

const KNOT: f64 = 1852.0 / 3600.0;
/// All runs of the day before noon are given up by then: what is absent is a gap.
const NOON: &str = "2030-05-13T12:00:00Z";

type Row = HashMap<String, String>;

fn home_pool(file: &str, of: impl Fn(&Row) -> bool) -> Vec<Row> {
    let rows = rows(shared(file).expect("the shared set")).into_iter();
    rows.filter(|row| row["point"] == "home-pool" && of(row))
        .collect()
}

fn first_run(every: u16, last: u16) -> Vec<Row> {
    home_pool("grib-synthetic/expected.csv", |row| {
        let step: u16 = row["step_h"].parse().expect("a step");
        row["run"] == "2030051300" && step.is_multiple_of(every) && step <= last
    })
}

fn close(found: f64, row: &Row, column: &str, tolerance: f64) {
    let expected: f64 = row[column].parse().expect("a number");
    let step = &row["step_h"];
    assert!(
        (found - expected).abs() <= tolerance,
        "{column} at step {step}: {found}, not {expected}"
    );
}

fn step_of(row: &Row) -> u16 {
    row["step_h"].parse().expect("a step")
}

fn value(slice: &RunSlice, parameter: Parameter, member: u16, step: u16) -> f64 {
    f64::from(sample(slice, parameter, member, step).expect("a value"))
}

async fn pulled(feed: &str, tree: &str) -> Option<Pulled> {
    let replica = replica_of(&shared("grib-synthetic")?.join(tree), NOON);
    let pulled = pull_from(&replica, &[feed], NOON).await;
    assert_eq!(pulled.report.sources[0].failure, None);
    Some(pulled)
}

#[tokio::test]
async fn ifs_is_that_expected_with_rain_in_millimetres_and_gusts_by_their_interval() {
    let Some(pulled) = pulled("ecmwf-ifs", "ecmwf").await else {
        return;
    };
    assert_eq!(pulled.missing(), [] as [(Gap, String); 0]);
    let slice = pulled.slice("ecmwf-ifs").await;
    let mut rain_before = 0.0;
    let rows = first_run(3, 120);
    assert_eq!(rows.len(), 41);
    for row in &rows {
        let step = step_of(row);
        let value = |parameter| value(&slice, parameter, 0, step);
        close(value(Parameter::WindU), row, "grid_u_ms", 0.02 * KNOT);
        close(value(Parameter::WindV), row, "grid_v_ms", 0.02 * KNOT);
        close(value(Parameter::Pressure) / 100.0, row, "grid_prmsl_hpa", 0.01);
        close(value(Parameter::AirTemperature) - 273.15, row, "grid_t2_c", 0.01);
        close(value(Parameter::DewPoint) - 273.15, row, "grid_d2_c", 0.01);
        close(value(Parameter::Cape), row, "grid_mucape_jkg", 1.0);
        close(
            value(Parameter::SurfaceTemperature) - 273.15,
            row,
            "grid_sea_temp_c",
            0.01,
        );
        if step == 0 {
            assert_eq!(sample(&slice, Parameter::Gust, 0, 0), Err(Gap::NotInFeed));
            continue;
        }
        close(value(Parameter::Gust) / KNOT, row, "grid_gust_max_3h_kn", 0.02);
        let of_gust = slice.message(Parameter::Gust, forecast::Member(0), forecast::Step(step));
        let interval = of_gust.and_then(|message| message.interval).expect("an interval");
        assert_eq!((interval.end - interval.start).num_hours(), 3);
        let rain = value(Parameter::Precipitation);
        close(rain, row, "grid_rain_total_mm", 0.005);
        close(rain - rain_before, row, "grid_rain_3h_mm", 0.005);
        rain_before = rain;
    }
}

#[tokio::test]
async fn ecmwf_waves_have_peak_period_and_mean_direction() {
    let Some(pulled) = pulled("ecmwf-wave", "ecmwf").await else {
        return;
    };
    let slice = pulled.slice("ecmwf-wave").await;
    for row in &first_run(3, 120) {
        let value = |parameter| value(&slice, parameter, 0, step_of(row));
        close(value(Parameter::WaveHeight), row, "grid_swh_m", 0.006);
        close(value(Parameter::WavePeriod), row, "grid_peak_period_s", 0.006);
        close(value(Parameter::WaveDirection), row, "grid_mean_from_deg", 0.1);
    }
}

#[tokio::test]
async fn aifs_has_no_gust_and_rain_in_its_own_code() {
    let Some(pulled) = pulled("ecmwf-aifs", "ecmwf").await else {
        return;
    };
    let slice = pulled.slice("ecmwf-aifs").await;
    for row in first_run(6, 120).iter().filter(|row| step_of(row) > 0) {
        let value = |parameter| value(&slice, parameter, 0, step_of(row));
        close(value(Parameter::WindU), row, "grid_u_ms", 0.02 * KNOT);
        close(value(Parameter::Precipitation), row, "grid_rain_total_mm", 0.005);
    }
    let fields = slice.nodes[0].fields.iter();
    assert!(fields.into_iter().all(|field| field.parameter != Parameter::Gust));
}

#[tokio::test]
async fn the_fifty_members_and_their_control_are_those_expected() {
    let Some(pulled) = pulled("ecmwf-ens", "ecmwf").await else {
        return;
    };
    assert_eq!(pulled.missing(), [] as [(Gap, String); 0]);
    let slice = pulled.slice("ecmwf-ens").await;
    let rows = home_pool("grib-synthetic/expected_ensemble.csv", |row| {
        row["system"] == "enfo"
    });
    assert_eq!(rows.len(), 50 * 41);
    for row in &rows {
        let (member, step) = (row["member"].parse().expect("a member"), step_of(row));
        let value = |parameter| value(&slice, parameter, member, step);
        let (u, v) = (value(Parameter::WindU), value(Parameter::WindV));
        close(u.hypot(v) / KNOT, row, "grid_speed_kn", 0.02);
        if step > 0 {
            close(value(Parameter::Gust) / KNOT, row, "grid_gust_kn", 0.02);
        }
    }
    for row in &first_run(3, 120) {
        close(
            value(&slice, Parameter::WindU, 0, step_of(row)),
            row,
            "grid_u_ms",
            0.02 * KNOT,
        );
    }
}

#[tokio::test]
async fn files_of_one_field_inside_bzip2_are_read_and_absent_ones_are_gaps() {
    let Some(pulled) = pulled("icon-eu", "dwd").await else {
        return;
    };
    let slice = pulled.slice("icon-eu").await;
    for row in &first_run(1, 48) {
        let step = step_of(row);
        let value = |parameter| value(&slice, parameter, 0, step);
        close(value(Parameter::WindU), row, "eu_u_ms", 0.02 * KNOT);
        close(value(Parameter::WindV), row, "eu_v_ms", 0.02 * KNOT);
        close(value(Parameter::Pressure) / 100.0, row, "eu_prmsl_hpa", 0.01);
        close(value(Parameter::AirTemperature) - 273.15, row, "eu_t2_c", 0.01);
        if step > 0 {
            close(value(Parameter::Gust) / KNOT, row, "eu_gust_max_1h_kn", 0.02);
        }
        assert_eq!(sample(&slice, Parameter::DewPoint, 0, step), Err(Gap::NotThere));
    }
    assert_eq!(sample(&slice, Parameter::Gust, 0, 0), Err(Gap::NotInFeed));
}

// No source: the project's rule that a file not yet there is waited for until its run is given up.
#[tokio::test]
async fn a_field_that_lags_behind_the_others_is_waited_for() {
    let Some(tree) = shared("grib-synthetic/dwd") else {
        return;
    };
    let replica = replica_of(&tree, "2030-05-13T04:00:00Z");
    let pulled = pull_from(&replica, &["icon-eu"], "2030-05-13T04:00:00Z").await;
    let run = &pulled.report.sources[0].runs[0];
    assert_eq!(
        (run.parts_written.as_slice(), run.waiting_for_part),
        (&[][..], Some(0))
    );
    assert_eq!(run.reference, at("2030-05-13T00:00:00Z"));
}
