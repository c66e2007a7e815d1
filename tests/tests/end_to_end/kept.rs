//! What `conditions` and `runs` say of the store, against the generator's expected values: the formulas of the invented run,
//! bilinear before packing (../shared/grib-synthetic/expected.csv and expected_ensemble.csv; tolerances from its README).

use cringle_tests::{GEFS_00, GFS_06, PLAIN_BOAT_AND_LEVEL, Scene, shared};
use serde_json::Value;
use std::collections::HashMap;

type Row = HashMap<String, String>;

const KNOTS_PER_METRE_PER_SECOND: f64 = 3600.0 / 1852.0;
const POINTS: [&str; 4] = ["home-pool", "outer-bank", "middle-ground", "north-west-mark"];

fn rows(table: std::path::PathBuf) -> Vec<Row> {
    let mut reader = csv::Reader::from_path(table).expect("the table");
    reader.deserialize().map(|row| row.expect("a row")).collect()
}

fn number(row: &Row, column: &str) -> Option<f64> {
    row[column].parse().ok()
}

/// A club with one venue at each of the four points, and nothing else to do there.
fn club(rows: &[Row]) -> String {
    club_at("values", &POINTS, rows)
}

/// A club with one venue at each of these points.
fn club_at(slug: &str, points: &[&str], rows: &[Row]) -> String {
    let first = points[0];
    let venue = |point: &&str| {
        let row = rows
            .iter()
            .find(|row| row["point"] == **point)
            .expect("the point");
        let (lat, lon) = (&row["lat"], &row["lon"]);
        format!(
            "[[venues]]\nid = \"{point}\"\nname = \"{point}\"\npoints = [{{ lat = {lat}, lon = {lon} }}]\n"
        )
    };
    let venues: String = points.iter().map(venue).collect();
    format!(
        r#"
[club]
name = "Values"
slug = "{slug}"
time_zone = "UTC"
{venues}
{PLAIN_BOAT_AND_LEVEL}[[sessions]]
id = "one"
venue = "{first}"
boat = "plain"
level = "any"
starts = "2030-05-14T09:00"
ends = "12:00"
"#
    )
}

/// The values of a venue, by source, member, hour and quantity.
struct Kept(HashMap<(String, u64, String, String), Value>);

impl Kept {
    fn of(scene: &Scene, venue: &str) -> Self {
        let text = scene.printed(&["conditions", "--venue", venue, "--json"]);
        let key = |line: &Value| {
            let text = |key: &str| line[key].as_str().expect("text").to_owned();
            let member = line["member"].as_u64().expect("a member");
            (text("source"), member, text("valid_time"), text("parameter"))
        };
        let lines = text
            .lines()
            .map(|line| serde_json::from_str::<Value>(line).expect("JSON"));
        Self(lines.map(|line| (key(&line), line)).collect())
    }

    fn value(&self, source: &str, member: u64, at: &str, parameter: &str) -> f64 {
        let key = (source.to_owned(), member, at.to_owned(), parameter.to_owned());
        let line = self.0.get(&key).unwrap_or_else(|| panic!("no line for {key:?}"));
        line["value"].as_f64().unwrap_or_else(|| panic!("{line}"))
    }
}

fn near(value: f64, expected: Option<f64>, tolerance: f64, what: &str) {
    let expected = expected.unwrap_or_else(|| panic!("{what}: nothing is expected"));
    assert!(
        (value - expected).abs() <= tolerance,
        "{what}: {value}, expected {expected}"
    );
}

/// A club that is only kept in the store, as one that was put over the API, has its places fetched beside the own club's.
#[tokio::test]
async fn the_places_of_every_club_of_the_store_are_fetched() {
    let Some(expected) = shared("grib-synthetic/expected.csv") else {
        return;
    };
    let rows = rows(expected);
    let theirs = club_at("others", &["north-west-mark"], &rows);
    let fetched = |with: Option<&str>| {
        let scene = Scene::new(&club_at("own", &["home-pool"], &rows));
        let theirs = with.map(str::to_owned);
        async move {
            if let Some(text) = theirs {
                let new = store::NewClubVersion {
                    slug: "others".to_owned(),
                    version: "first".to_owned(),
                    text,
                    seen_at: scene.now.parse().expect("a moment"),
                };
                let store = store::Store::open(&scene.store().display().to_string()).await;
                store
                    .expect("a store")
                    .put_club_version(&new)
                    .await
                    .expect("kept");
            }
            scene.printed(&["fetch"]);
            scene
        }
    };
    let kept_there = |scene: &Scene| {
        std::fs::write(scene.club(), &theirs).expect("the other club's file");
        Kept::of(scene, "north-west-mark")
    };
    // Without it no node near that mark is kept: or the test would show nothing.
    let without = fetched(None).await;
    assert!(
        !kept_there(&without)
            .0
            .values()
            .any(|line| line["value"].is_number())
    );
    let with = fetched(Some(&theirs)).await;
    let kept = kept_there(&with);
    let of_the_run = |row: &&Row| row["point"] == "north-west-mark" && row["run"] == "2030051306";
    for row in rows.iter().filter(of_the_run) {
        let wind = kept.value("gfs", 0, row["valid_time"].as_str(), "wind-u");
        near(
            wind,
            number(row, "grid_u_ms"),
            0.011,
            "wind-u of the other club's mark",
        );
    }
}

#[test]
fn every_quantity_kept_is_that_of_the_formulas_in_the_unit_of_the_forecast() {
    let (Some(expected), Some(ensemble)) = (
        shared("grib-synthetic/expected.csv"),
        shared("grib-synthetic/expected_ensemble.csv"),
    ) else {
        return;
    };
    let (expected, ensemble) = (rows(expected), rows(ensemble));
    let scene = Scene::new(&club(&expected));
    scene.printed(&["fetch"]);
    let mut compared = 0;
    for point in POINTS {
        let kept = Kept::of(&scene, point);
        let mut bucket = 0.0;
        for row in expected
            .iter()
            .filter(|row| row["point"] == point && row["run"] == "2030051306")
        {
            let at = row["valid_time"].as_str();
            let of = |source, parameter| kept.value(source, 0, at, parameter);
            let expect = |value, column: &str, factor: f64, offset: f64, tolerance| {
                let expected = number(row, column).map(|expected| expected * factor + offset);
                near(value, expected, tolerance, &format!("{point} {at} {column}"));
            };
            expect(of("gfs", "wind-u"), "grid_u_ms", 1.0, 0.0, 0.011);
            expect(of("gfs", "wind-v"), "grid_v_ms", 1.0, 0.0, 0.011);
            let gust = of("gfs", "gust") * KNOTS_PER_METRE_PER_SECOND;
            expect(gust, "grid_gust_instant_kn", 1.0, 0.0, 0.02);
            expect(of("gfs", "pressure"), "grid_prmsl_hpa", 100.0, 0.0, 1.0);
            // The table has three decimals of a degree Celsius: half of the last beside the packing's.
            expect(of("gfs", "air-temperature"), "grid_t2_c", 1.0, 273.15, 0.0105);
            expect(of("gfs", "dew-point"), "grid_d2_c", 1.0, 273.15, 0.0105);
            expect(of("gfs", "visibility"), "grid_vis_m", 1.0, 0.0, 10.0);
            expect(of("gfs", "cape"), "grid_cape_jkg", 1.0, 0.0, 1.0);
            expect(of("gfs-wave", "wave-height"), "grid_swh_m", 1.0, 0.0, 0.006);
            expect(
                of("gfs-wave", "wave-period"),
                "grid_peak_period_s",
                1.0,
                0.0,
                0.006,
            );
            expect(
                of("gfs-wave", "wave-direction"),
                "grid_peak_from_deg",
                1.0,
                0.0,
                0.1,
            );
            compared += 11;
            let step: u32 = row["step_h"].parse().expect("a step");
            if step > 0 {
                // Buckets of the feed restart after every sixth hour (../shared/design/data-sources.md).
                let hour = number(row, "grid_rain_1h_mm").expect("rain of the hour");
                bucket = if step % 6 == 1 { hour } else { bucket + hour };
                let value = of("gfs", "precipitation");
                near(value, Some(bucket), 6.0 * 0.005, &format!("{point} {at} rain"));
                compared += 1;
            }
        }
        for row in ensemble
            .iter()
            .filter(|row| row["point"] == point && row["system"] == "gefs")
        {
            let (at, member) = (
                row["valid_time"].as_str(),
                row["member"].parse().expect("a member"),
            );
            let of = |parameter| kept.value("gefs", member, at, parameter);
            let speed = of("wind-u").hypot(of("wind-v")) * KNOTS_PER_METRE_PER_SECOND;
            let what = format!("{point} {at} member {member}");
            near(speed, number(row, "grid_speed_kn"), 0.02, &what);
            near(
                of("gust") * KNOTS_PER_METRE_PER_SECOND,
                number(row, "grid_gust_kn"),
                0.02,
                &what,
            );
            compared += 2;
        }
    }
    println!("{compared} values compared");
    assert!(compared > 10_000, "{compared} values compared");
}

#[test]
fn what_is_damaged_or_absent_is_said_with_its_reason_and_never_as_a_number() {
    let scene = Scene::by_hand();
    let damaged = scene.damage(GFS_06, ":GUST:surface:");
    let _with_gaps = scene.run(&["fetch"]);
    let runs: Vec<Value> = serde_json::from_str(&scene.printed(&["runs", "--json"])).expect("a list");
    let gfs = &runs[0]["newest_run"];
    assert_eq!(gfs["complete"], false);
    assert_eq!(gfs["missing"][0]["reason"], "damaged message", "{gfs}");
    assert_eq!(gfs["missing"][0]["messages"], damaged, "{gfs}");
    assert_eq!(
        gfs["messages_wanted"].as_u64().expect("a count") - gfs["messages_read"].as_u64().expect("a count"),
        damaged as u64
    );
    assert!(
        runs[0]["last_error"]["words"]
            .as_str()
            .is_some_and(|words| !words.is_empty()),
        "{}",
        runs[0]
    );
    let text = scene.printed(&["conditions", "--venue", "node", "--source", "gfs", "--json"]);
    let gusts: Vec<Value> = text
        .lines()
        .map(|line| serde_json::from_str(line).expect("JSON"))
        .filter(|line: &Value| line["parameter"] == "gust")
        .collect();
    assert_eq!(gusts.len(), damaged);
    for line in &gusts {
        assert!(
            line["value"].is_null() && line["missing"] == "damaged message",
            "{line}"
        );
        assert_eq!(line["unit"], "m/s");
    }
    let table = scene.printed(&["conditions", "--venue", "node"]);
    assert!(table.contains("missing: damaged message"), "{table}");
    assert!(table.lines().all(|line| line.chars().count() <= 80), "{table}");
    assert!(!table.contains('\u{1b}'), "a pipe gets no colour");
    let unknown = scene.run(&["conditions", "--venue", "nowhere"]);
    assert_eq!(unknown.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&unknown.stderr).contains("it has node"));
    assert_eq!(
        scene
            .run(&["conditions", "--venue", "node", "--source", "x"])
            .status
            .code(),
        Some(2)
    );
}

// What the bundled trees hold: ../shared/grib-synthetic/README.md, "The trees". Part counts: the catalogue's steps in
// blocks of twelve hours, GFS to 384 h and GEFS to 240 h.
#[test]
fn runs_count_parts_against_the_whole_run_and_see_nothing_before_its_time() {
    let mut scene = Scene::by_hand();
    let nothing = scene.printed(&["runs"]);
    assert!(nothing.contains("nothing fetched yet"), "{nothing}");
    scene.printed(&["fetch"]);
    let runs: Vec<Value> = serde_json::from_str(&scene.printed(&["runs", "--json"])).expect("a list");
    let of = |source: &str| {
        runs.iter()
            .find(|one| one["source"] == source)
            .expect("the source")
    };
    let (gfs, gefs) = (of("gfs"), of("gefs"));
    assert_eq!(gfs["newest_run"]["run"], "2030-05-13T06:00:00Z");
    assert_eq!(
        (
            &gfs["newest_run"]["parts_kept"],
            &gfs["newest_run"]["parts_of_run"]
        ),
        (&5.into(), &32.into())
    );
    assert_eq!(gfs["newest_run"]["complete"], false);
    assert_eq!(gfs["newest_run"]["reaches"], "2030-05-15T18:00:00Z");
    assert_eq!(gfs["state"], "usable");
    assert_eq!(
        (
            &gefs["newest_run"]["parts_kept"],
            &gefs["newest_run"]["parts_of_run"]
        ),
        (&10.into(), &20.into())
    );
    assert_eq!(gefs["state"], "stale", "15 h old, 14 h is the catalogue's bound");
    assert_eq!(gefs["late_run"]["run"], "2030-05-13T06:00:00Z");
    assert_eq!(gfs["next_run"]["usually_out_at"], "2030-05-13T15:30:00Z");
    let text = scene.printed(&["runs"]);
    assert!(
        text.contains("5 of 32 parts") && !text.contains("complete"),
        "{text}"
    );
    assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
    // Everything became visible at the moment of fetching, 15 UTC.
    scene.now = "2030-05-13T14:59:59Z".to_owned();
    let before = scene.printed(&["runs"]);
    assert!(before.contains("nothing fetched yet"), "{before}");
}

#[test]
fn a_source_that_fails_leaves_the_others_and_is_told_until_it_is_mended() {
    let scene = Scene::by_hand();
    let away = scene.feeds().join("away");
    let tree = scene
        .feeds()
        .join(GEFS_00.split('/').take(2).collect::<Vec<_>>().join("/"));
    std::fs::rename(&tree, &away).expect("the tree is put away");
    let output = scene.run(&["fetch"]);
    let words = String::from_utf8_lossy(&output.stdout).into_owned();
    assert_eq!(output.status.code(), Some(1), "{words}");
    assert!(
        words.contains("gefs: FAILED: no run") && words.contains("gfs: received"),
        "{words}"
    );
    let runs = scene.printed(&["runs"]);
    assert!(
        runs.contains("last error  Mon 13 May 15:00 UTC: no run of the last 72 hours"),
        "{runs}"
    );
    assert!(runs.contains("5 of 32 parts"), "{runs}");
    std::fs::rename(&away, &tree).expect("the tree is put back");
    let words = scene.printed(&["fetch"]);
    assert!(
        words.contains("10 parts written") && words.contains("5 kept before"),
        "{words}"
    );
    let runs = scene.printed(&["runs"]);
    assert!(!runs.contains("last error"), "{runs}");
}
