//! Values at `home-pool` against the shared set's expected values, which come from the formulas of the invented week
//! and were checked with ecCodes; tolerances are those its papers give for packing.

use crate::tree::{LATER, RUN, Tree, at, missing, rows, run, sample, shared};
use forecast::{Gap, Parameter};
use std::collections::HashMap;

const KNOT: f64 = 1852.0 / 3600.0;
const LAST: u16 = 24;

fn close(found: f64, row: &HashMap<String, String>, column: &str, tolerance: f64) {
    let expected: f64 = row[column].parse().expect("a number");
    let step = &row["step_h"];
    assert!(
        (found - expected).abs() <= tolerance,
        "{column} at step {step}: {found}, not {expected}"
    );
}

fn home_pool(file: &str, run: &str) -> Option<Vec<HashMap<String, String>>> {
    let rows = rows(shared(file)?);
    let of_run = |row: &HashMap<String, String>| row.get("run").is_none_or(|of| of == run);
    let early = |row: &HashMap<String, String>| row["step_h"].parse::<u16>().expect("a step") <= LAST;
    Some(
        rows.into_iter()
            .filter(|row| row["point"] == "home-pool" && of_run(row) && early(row))
            .collect(),
    )
}

#[tokio::test]
async fn gfs_and_its_waves_are_those_expected() {
    let Some(expected) = home_pool("grib-synthetic/expected.csv", "2030051300") else {
        return;
    };
    let tree = Tree::with("gfs", LAST).await;
    tree.add("gfs-wave", 0, LAST);
    let report = tree.pull(&["gfs", "gfs-wave"], LATER).await;
    assert_eq!(run(&report).parts_written, [0, 1]);
    let (air, sea) = (tree.slice("gfs").await, tree.slice("gfs-wave").await);
    assert_eq!((missing(&air), missing(&sea)), (vec![], vec![]));
    assert_eq!(expected.len(), usize::from(LAST) + 1);
    let mut bucket = 0.0;
    for row in &expected {
        let step = row["step_h"].parse().expect("a step");
        let air = |parameter| f64::from(sample(&air, parameter, 0, step).expect("a value"));
        let sea = |parameter| f64::from(sample(&sea, parameter, 0, step).expect("a value"));
        close(air(Parameter::WindU), row, "grid_u_ms", 0.02 * KNOT);
        close(air(Parameter::WindV), row, "grid_v_ms", 0.02 * KNOT);
        close(air(Parameter::Gust) / KNOT, row, "grid_gust_instant_kn", 0.02);
        close(air(Parameter::Pressure) / 100.0, row, "grid_prmsl_hpa", 0.01);
        close(air(Parameter::AirTemperature) - 273.15, row, "grid_t2_c", 0.01);
        close(air(Parameter::DewPoint) - 273.15, row, "grid_d2_c", 0.01);
        close(
            air(Parameter::SurfaceTemperature) - 273.15,
            row,
            "grid_sea_temp_c",
            0.01,
        );
        close(air(Parameter::Visibility), row, "grid_vis_m", 10.0);
        close(air(Parameter::Cape), row, "grid_cape_jkg", 1.0);
        close(air(Parameter::LandShare), row, "land_of_four", 0.0);
        close(sea(Parameter::WaveHeight), row, "grid_swh_m", 0.006);
        close(sea(Parameter::WavePeriod), row, "grid_peak_period_s", 0.006);
        close(sea(Parameter::WaveDirection), row, "grid_peak_from_deg", 0.1);
        if step > 0 {
            // A bucket holds the rain since the last multiple of six hours.
            let restarts = step % 6 == 1;
            let this_hour = air(Parameter::Precipitation) - if restarts { 0.0 } else { bucket };
            close(this_hour, row, "grid_rain_1h_mm", 0.005);
            bucket = air(Parameter::Precipitation);
        }
    }
    assert_eq!(sample(&air, Parameter::Precipitation, 0, 0), Err(Gap::NotInFeed));
}

#[tokio::test]
async fn every_member_is_the_one_expected() {
    let Some(expected) = home_pool("grib-synthetic/expected_ensemble.csv", "") else {
        return;
    };
    let tree = Tree::with("gefs", LAST).await;
    let report = tree.pull(&["gefs"], LATER).await;
    assert_eq!(run(&report).messages_read, 31 * 9 * 4);
    let slice = tree.slice("gefs").await;
    let mut checked = 0;
    for row in expected.iter().filter(|row| row["system"] == "gefs") {
        let (member, step) = (
            row["member"].parse().expect("a member"),
            row["step_h"].parse().expect("a step"),
        );
        let value = |parameter| f64::from(sample(&slice, parameter, member, step).expect("a value"));
        let (u, v) = (value(Parameter::WindU), value(Parameter::WindV));
        close(u.hypot(v) / KNOT, row, "grid_speed_kn", 0.02);
        close(
            (-u).atan2(-v).to_degrees().rem_euclid(360.0),
            row,
            "grid_direction_from_deg",
            0.1,
        );
        close(value(Parameter::Gust) / KNOT, row, "grid_gust_kn", 0.02);
        checked += 1;
    }
    assert_eq!(checked, 31 * 9);
}

// Source: WMO code tables 4.5 and 4.10 by way of the index line: rain at hour 9 is accumulated from hour 6.
#[tokio::test]
async fn each_value_names_its_message() {
    let tree = Tree::with("gfs", 12).await;
    tree.pull(&["gfs"], LATER).await;
    let slice = tree.slice("gfs").await;
    let step = forecast::Step(9);
    let rain = slice
        .message(Parameter::Precipitation, forecast::Member(0), step)
        .expect("a record");
    let interval = rain.interval.expect("an interval");
    assert_eq!(
        (interval.start, interval.end),
        (at("2030-05-13T06:00:00Z"), at("2030-05-13T09:00:00Z"))
    );
    assert_eq!(rain.file, "gfs.20300513/00/atmos/gfs.t00z.pgrb2.0p25.f009");
    let bytes = std::fs::read(tree.path(&rain.file)).expect("the file");
    let message = &bytes[rain.offset as usize..][..rain.length as usize];
    assert!(message.starts_with(b"GRIB") && message.ends_with(b"7777"));
    assert_eq!((slice.reference, slice.visible_at), (at(RUN), at(LATER)));
}
