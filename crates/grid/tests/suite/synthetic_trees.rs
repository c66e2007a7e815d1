//! The invented runs in the trees of three feeds, every step and member, against the values their generator wrote beside.
//!
//! Source: ../shared/grib-synthetic, written with ecCodes 2.50 from formulas; no reader of this project had a part in it.
//! Tolerances are those of its README.

use crate::common::{shared, value_at};
use crate::story::{Comparison, Fields, File, HEIGHT, Row, TWO_METRES, celsius, knots, place, rows, same};
use grid::{FieldHeader, Message};
use seaway::LatLon;
use std::collections::{BTreeMap, HashMap};
use std::path::{Path, PathBuf};

/// Rows by run and step, so that each file is read once.
fn by_step(rows: Vec<Row>) -> BTreeMap<(String, u32), Vec<Row>> {
    let mut steps = BTreeMap::<_, Vec<Row>>::new();
    for row in rows {
        let key = (row["run"].clone(), row["step_h"].parse().unwrap());
        steps.entry(key).or_default().push(row);
    }
    steps
}

fn check_wind_and_air(compared: &mut Comparison, fields: &Fields<'_>, row: &Row, pressure: (u8, u8, u8)) {
    let at = place(row, "lat", "lon");
    compared.wind(row, fields.wind(at));
    for (column, number) in [("grid_u_ms", 2), ("grid_v_ms", 3)] {
        compared.check(
            row,
            column,
            fields.bilinear((0, 2, number), HEIGHT, at),
            same,
            0.0103,
        );
    }
    compared.check(
        row,
        "grid_prmsl_hpa",
        fields.bilinear(pressure, (101, None), at),
        |pa| pa / 100.0,
        0.01,
    );
    compared.check(
        row,
        "grid_t2_c",
        fields.bilinear((0, 0, 0), TWO_METRES, at),
        celsius,
        0.01,
    );
    compared.check(
        row,
        "grid_d2_c",
        fields.bilinear((0, 0, 6), TWO_METRES, at),
        celsius,
        0.01,
    );
}

/// Temperature of the sea: bilinear where no node is land, and at the nearest node at sea.
fn check_sea(
    compared: &mut Comparison,
    fields: &Fields<'_>,
    row: &Row,
    numbers: (u8, u8, u8),
    level: (u8, Option<f64>),
) {
    let at = place(row, "lat", "lon");
    if row["land_of_four"] == "0" {
        compared.check(
            row,
            "grid_sea_temp_c",
            fields.bilinear(numbers, level, at),
            celsius,
            0.01,
        );
    }
    let node = place(row, "nearest_sea_lat", "nearest_sea_lon");
    compared.check(
        row,
        "nearest_sea_temp_c",
        fields.nearest(numbers, level, node),
        celsius,
        0.01,
    );
}

fn check_gfs(compared: &mut Comparison, fields: &Fields<'_>, row: &Row) {
    let (at, surface) = (place(row, "lat", "lon"), (1, None));
    check_wind_and_air(compared, fields, row, (0, 3, 1));
    compared.check(
        row,
        "grid_gust_instant_kn",
        fields.bilinear((0, 2, 22), surface, at),
        knots,
        0.02,
    );
    compared.check(
        row,
        "grid_vis_m",
        fields.bilinear((0, 19, 0), surface, at),
        same,
        10.0,
    );
    compared.check(
        row,
        "grid_cape_jkg",
        fields.bilinear((0, 7, 6), surface, at),
        same,
        1.0,
    );
    check_sea(compared, fields, row, (0, 0, 0), surface);
    let total = fields.0.iter().find(|(_, field)| {
        (field.category, field.number) == (1, 8)
            && field
                .interval
                .is_some_and(|interval| interval.start == field.reference)
    });
    if let Some((message, field)) = total {
        let rain = value_at(message, field, at).unwrap().1;
        compared.check(row, "grid_rain_total_mm", rain, same, 0.005);
    }
}

fn check_gfs_wave(compared: &mut Comparison, fields: &Fields<'_>, row: &Row) {
    let at = place(row, "lat", "lon");
    let node = place(row, "nearest_sea_lat", "nearest_sea_lon");
    let (surface, first) = ((1, None), (241, Some(1.0)));
    let plain = [
        ("grid_swh_m", 3, surface, 0.006),
        ("grid_peak_period_s", 11, surface, 0.006),
        ("grid_wind_sea_m", 5, surface, 0.006),
        ("grid_wind_sea_period_s", 6, surface, 0.006),
        ("grid_swell_m", 8, first, 0.006),
        ("grid_swell_period_s", 9, first, 0.006),
    ];
    for (column, number, level, tolerance) in plain {
        compared.check(
            row,
            column,
            fields.bilinear((10, 0, number), level, at),
            same,
            tolerance,
        );
    }
    let directions = [
        ("grid_peak_from_deg", 10, surface),
        ("grid_wind_sea_from_deg", 4, surface),
        ("grid_swell_from_deg", 7, first),
    ];
    for (column, number, level) in directions {
        compared.check(
            row,
            column,
            fields.direction((10, 0, number), level, at),
            same,
            0.1,
        );
    }
    for (column, number, tolerance) in [
        ("nearest_swh_m", 3, 0.006),
        ("nearest_peak_period_s", 11, 0.006),
        ("nearest_peak_from_deg", 10, 0.1),
    ] {
        compared.check(
            row,
            column,
            fields.nearest((10, 0, number), surface, node),
            same,
            tolerance,
        );
    }
}

#[test]
fn noaa_gfs_tree_says_what_its_story_says() {
    let Some(folder) = shared("grib-synthetic") else {
        return;
    };
    let mut compared = Comparison::default();
    for ((run, step), rows) in by_step(rows(&folder.join("expected.csv"))) {
        let (date, hour) = run.split_at(8);
        let cycle = folder.join(format!("noaa-gfs/gfs.{date}/{hour}"));
        let atmosphere = File::read(&cycle.join(format!("atmos/gfs.t{hour}z.pgrb2.0p25.f{step:03}")));
        let wave = File::read(&cycle.join(format!(
            "wave/gridded/gfswave.t{hour}z.global.0p25.f{step:03}.grib2"
        )));
        let (atmosphere, wave) = (Fields(atmosphere.fields()), Fields(wave.fields()));
        for row in &rows {
            check_gfs(&mut compared, &atmosphere, row);
            check_gfs_wave(&mut compared, &wave, row);
        }
    }
    compared.print("noaa-gfs");
    assert_eq!(compared.0["grid_u_ms"], 1274);
}

#[test]
fn ecmwf_tree_says_what_its_story_says() {
    let Some(folder) = shared("grib-synthetic") else {
        return;
    };
    let root = folder.join("ecmwf/20300513/00z");
    let mut compared = Comparison::default();
    let first_cycle = |row: &Row| row["run"] == "2030051300";
    let rows: Vec<Row> = rows(&folder.join("expected.csv"))
        .into_iter()
        .filter(first_cycle)
        .collect();
    for ((_, step), rows) in by_step(rows) {
        let path = |kind: &str, stream: &str| -> PathBuf {
            root.join(format!("{kind}/20300513000000-{step}h-{stream}-fc.grib2"))
        };
        if step % 3 == 0 {
            let (oper, wave) = (
                File::read(&path("ifs/0p25/oper", "oper")),
                File::read(&path("ifs/0p25/wave", "wave")),
            );
            let (oper, wave) = (Fields(oper.fields()), Fields(wave.fields()));
            for row in &rows {
                check_ifs(&mut compared, &oper, row, step);
                check_ifs_wave(&mut compared, &wave, row);
            }
        }
        if step % 6 == 0 {
            let single = File::read(&path("aifs-single/0p25/oper", "oper"));
            let single = Fields(single.fields());
            for row in &rows {
                check_wind_and_air(&mut compared, &single, row, (0, 3, 0));
                check_sea(&mut compared, &single, row, (0, 0, 17), (1, None));
                if step > 0 {
                    let rain = single.bilinear((0, 1, 52), (1, None), place(row, "lat", "lon"));
                    compared.check(row, "grid_rain_total_mm", rain, same, 0.005);
                }
            }
        }
    }
    compared.print("ecmwf, one run");
    assert_eq!(
        compared.0["grid_swh_m"] + compared.0["grid_swh_m, missing"],
        41 * 7
    );
}

fn check_ifs(compared: &mut Comparison, fields: &Fields<'_>, row: &Row, step: u32) {
    let at = place(row, "lat", "lon");
    check_wind_and_air(compared, fields, row, (0, 3, 0));
    check_sea(compared, fields, row, (0, 0, 17), (1, None));
    let unstable = fields.bilinear((0, 7, 6), (17, None), at);
    compared.check(row, "grid_mucape_jkg", unstable, same, 1.0);
    if step > 0 {
        compared.check(
            row,
            "grid_gust_max_3h_kn",
            fields.bilinear((0, 2, 22), HEIGHT, at),
            knots,
            0.02,
        );
        let rain = fields.bilinear((0, 1, 193), (1, None), at);
        compared.check(row, "grid_rain_total_mm", rain, |metres| metres * 1000.0, 0.005);
    }
}

fn check_ifs_wave(compared: &mut Comparison, fields: &Fields<'_>, row: &Row) {
    let at = place(row, "lat", "lon");
    let node = place(row, "nearest_sea_lat", "nearest_sea_lon");
    let surface = (fields.0[0].1.surface, None);
    for (name, number, tolerance) in [
        ("swh_m", 3, 0.006),
        ("mean_period_s", 15, 0.006),
        ("peak_period_s", 34, 0.006),
    ] {
        let (numbers, grid, nearest) = ((10, 0, number), format!("grid_{name}"), format!("nearest_{name}"));
        compared.check(row, &grid, fields.bilinear(numbers, surface, at), same, tolerance);
        compared.check(
            row,
            &nearest,
            fields.nearest(numbers, surface, node),
            same,
            tolerance,
        );
    }
    compared.check(
        row,
        "grid_mean_from_deg",
        fields.direction((10, 0, 14), surface, at),
        same,
        0.1,
    );
    compared.check(
        row,
        "nearest_mean_from_deg",
        fields.nearest((10, 0, 14), surface, node),
        same,
        0.1,
    );
}

#[test]
fn every_member_of_both_ensembles_says_what_its_story_says() {
    let Some(folder) = shared("grib-synthetic") else {
        return;
    };
    // The points' places stand in the other file.
    let places: HashMap<String, LatLon> = rows(&folder.join("expected.csv"))
        .iter()
        .map(|row| (row["point"].clone(), place(row, "lat", "lon")))
        .collect();
    let mut by_file = BTreeMap::<PathBuf, Vec<Row>>::new();
    for row in rows(&folder.join("expected_ensemble.csv")) {
        by_file.entry(ensemble_file(&folder, &row)).or_default().push(row);
    }
    let mut compared = Comparison::default();
    for (path, rows) in &by_file {
        let file = File::read(path);
        let all = file.fields();
        for row in rows {
            let member: u16 = row["member"].parse().unwrap();
            let of_member = |(_, field): &&(Message<'_>, FieldHeader)| {
                field.member.map(|member| member.0) == Some(member)
            };
            let fields = Fields(all.iter().filter(of_member).cloned().collect());
            let at = places[&row["point"]];
            compared.wind(row, fields.wind(at));
            let surface = if row["system"] == "gefs" {
                (1, None)
            } else {
                HEIGHT
            };
            if let Some((message, field)) = fields.find((0, 2, 22), surface) {
                assert_eq!(
                    field.product_template,
                    if row["system"] == "gefs" { 1 } else { 11 }
                );
                compared.check(
                    row,
                    "grid_gust_kn",
                    value_at(message, field, at).unwrap().1,
                    knots,
                    0.02,
                );
            } else {
                assert_eq!(row["grid_gust_kn"], "", "a gust is expected in {row:?}");
            }
        }
    }
    compared.print(&format!("noaa-gefs and ecmwf enfo, {} files", by_file.len()));
    assert_eq!(compared.0["grid_speed_kn"], 23247);
}

fn ensemble_file(folder: &Path, row: &Row) -> PathBuf {
    let (member, step): (u32, u32) = (row["member"].parse().unwrap(), row["step_h"].parse().unwrap());
    if row["system"] == "enfo" {
        return folder.join(format!(
            "ecmwf/20300513/00z/ifs/0p25/enfo/20300513000000-{step}h-enfo-ef.grib2"
        ));
    }
    let name = if member == 0 {
        "gec00".to_owned()
    } else {
        format!("gep{member:02}")
    };
    folder.join(format!(
        "noaa-gefs/gefs.20300513/00/atmos/pgrb2sp25/{name}.t00z.pgrb2s.0p25.f{step:03}"
    ))
}
