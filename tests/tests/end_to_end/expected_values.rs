//! The hours of an advisory against the generator's expected values: the formulas of the invented run, bilinear before packing
//! (../shared/grib-synthetic/expected.csv, made by its generator; tolerances from its README).

use cringle_tests::{PLAIN_BOAT_AND_LEVEL, Scene, shared, time};

fn club(name: &str, lat: &str, lon: &str) -> String {
    let sessions: String = [13, 14, 15, 16, 17]
        .iter()
        .map(|day| {
            format!(
                "[[sessions]]\nid = \"day-{day}\"\nvenue = \"here\"\nboat = \"plain\"\nlevel = \"any\"\nstarts = \"2030-05-{day}T09:00\"\nends = \"19:00\"\n"
            )
        })
        .collect();
    format!(
        r#"
[club]
name = "{name}"
slug = "values"
time_zone = "UTC"
[policy]
wind_sources = ["gfs"]
front_gust_factor = 1.0 # values here, not rules: a front in the run would raise them by half
[[venues]]
id = "here"
name = "Here"
points = [{{ lat = {lat}, lon = {lon} }}]
{PLAIN_BOAT_AND_LEVEL}{sessions}"#
    )
}

#[test]
fn wind_gust_and_sea_at_four_places_are_those_of_the_formulas() {
    let Some(table) = shared("grib-synthetic/expected.csv") else {
        return;
    };
    let mut rows: Vec<std::collections::HashMap<String, String>> = Vec::new();
    for row in csv::Reader::from_path(table).expect("the table").deserialize() {
        rows.push(row.expect("a row"));
    }
    let mut compared = 0;
    for point in ["home-pool", "outer-bank", "middle-ground", "north-west-mark"] {
        let of_point: Vec<_> = rows.iter().filter(|row| row["point"] == point).collect();
        let scene = Scene::new(&club(point, &of_point[0]["lat"], &of_point[0]["lon"]));
        for advisory in scene.advise() {
            let run = advisory
                .sources
                .iter()
                .find(|used| used.used_for == "wind and gust")
                .and_then(|used| used.run);
            let run = run.expect("a run").format("%Y%m%d%H").to_string();
            for hour in &advisory.hours {
                let Some(row) = of_point
                    .iter()
                    .find(|row| row["run"] == run && hour.at == time(&row["valid_time"]))
                else {
                    continue;
                };
                let near = |value: Option<f64>, column: &str, tolerance: f64| {
                    let expected: f64 = row[column].parse().expect("a number");
                    let value = value.unwrap_or(f64::NAN);
                    assert!(
                        (value - expected).abs() <= tolerance,
                        "{point} {} {column}: {value}, expected {expected}",
                        hour.at
                    );
                };
                near(hour.mean_kn, "grid_speed_kn", 0.02 + 0.005);
                near(hour.gust_kn, "grid_gust_instant_kn", 0.02 + 0.005);
                near(hour.wave_m, "grid_swh_m", 0.006 + 0.005);
                near(hour.wave_period_s, "grid_peak_period_s", 0.006 + 0.05);
                compared += 4;
            }
        }
    }
    println!("{compared} values compared");
    assert!(compared > 4 * 4 * 40, "{compared}");
}
