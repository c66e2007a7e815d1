//! A club that takes its wind from a regional model on a turned grid, by settings alone: its advisory tells true winds.
//!
//! Source of the expected winds: `fixtures/turned/expected.csv`, what its generator put in before it turned and encoded it.

use advisory::document::Advisory;
use cringle_tests::{program, time, workspace};
use std::collections::HashMap;
use std::path::PathBuf;
use std::process::{Command, Output};

const KNOT: f64 = 1852.0 / 3600.0;
const CLUB: &str = r#"
[club]
name = "Turned School"
slug = "turned"
time_zone = "Etc/UTC"
[policy]
wind_sources = ["SOURCE"]
deterministic_sources = ["SOURCE"]
[[venues]]
id = "pool"
name = "The pool"
points = [{ lat = 43.5, lon = -15.5 }]
[[boats]]
id = "plain"
name = "Plain"
reef_table = [{ mean_up_to_kn = 50, gust_up_to_kn = 60, reefs = 1, headsail = 0.75 }]
[[levels]]
id = "wide"
name = "Wide"
accumulate = false
[levels.limits]
mean_kn = { caution_at = 30, stop_at = 40 }
gust_kn = { caution_at = 40, stop_at = 50 }
[[sessions]]
id = "tuesday"
venue = "pool"
boat = "plain"
level = "wide"
starts = "2030-05-14T09:00"
ends = "15:00"
"#;

/// A club whose wind comes from a source of the settings' own, which are those of the fixture.
struct Place(tempfile::TempDir);

impl Place {
    fn new(source: &str) -> Self {
        let place = Self(tempfile::tempdir().expect("a folder"));
        let fixture = workspace().join("fixtures/turned");
        std::fs::write(place.path("club.toml"), CLUB.replace("SOURCE", source)).expect("the club");
        let feeds = std::fs::read_to_string(fixture.join("sources.toml")).expect("the feeds");
        let settings = format!(
            "[store]\nurl = {:?}\n[club]\nfile = {:?}\n[sources]\nenabled = [\"own-lambert\", \"own-polar\", \"own-rotated\"]\n{}",
            place.path("store.db"),
            place.path("club.toml"),
            feeds
                .replace("[own-", "[sources.own-")
                .replace("https://example.org", &format!("file://{}", fixture.display())),
        );
        std::fs::write(place.path("cringle.toml"), settings).expect("the settings");
        place
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn run(&self, arguments: &[&str]) -> Output {
        Command::new(program())
            .args(arguments)
            .args(["--now", "2030-05-14T08:00:00Z"])
            .arg("--store")
            .arg(self.path("own.db"))
            .arg("--config")
            .arg(self.path("cringle.toml"))
            .output()
            .expect("the program starts")
    }

    fn printed(&self, arguments: &[&str]) -> String {
        let output = self.run(arguments);
        let words = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.success(), "{arguments:?}: {words}");
        String::from_utf8(output.stdout).expect("text")
    }
}

#[test]
fn an_advisory_from_a_turned_grid_tells_where_the_wind_truly_comes_from() {
    let mut table =
        csv::Reader::from_path(workspace().join("fixtures/turned/expected.csv")).expect("the table");
    let table: Vec<HashMap<String, String>> = table.deserialize().map(|row| row.expect("a row")).collect();
    for grid in ["lambert", "polar", "rotated"] {
        let place = Place::new(&format!("own-{grid}"));
        let told = place.printed(&["fetch"]);
        assert!(told.contains(&format!("own-{grid}")), "{told}");
        let all: Vec<Advisory> =
            serde_json::from_str(&place.printed(&["advise", "--json"])).expect("advisories");
        let advisory = all.first().expect("the session");
        let mut checked = 0;
        for row in table
            .iter()
            .filter(|row| row["grid"] == grid && row["place"] == "home-pool")
        {
            let number = |column: &str| row[column].parse::<f64>().expect("a number");
            let valid = time("2030-05-14T06:00:00Z") + chrono::TimeDelta::hours(number("step_h") as i64);
            let hours = advisory.hours.iter().filter(|hour| hour.at == valid);
            for hour in hours {
                let from = hour.from_deg.expect("a direction");
                let off = (from - number("from_deg") + 180.0).rem_euclid(360.0) - 180.0;
                // Along the grid it would seem to come from 30 degrees beside that.
                assert!(
                    off.abs() <= 0.6,
                    "{grid} at {valid}: from {from}, not {}",
                    row["from_deg"]
                );
                let mean = hour.mean_kn.expect("a wind");
                assert!(
                    (mean - number("speed_ms") / KNOT).abs() <= 0.6,
                    "{grid} at {valid}: {mean} kn"
                );
                checked += 1;
            }
        }
        assert!(checked >= 2, "{checked} hours of {:?}", advisory.missing);
        // Whoever looks the message up finds another number in it, and is told why.
        let account = place.printed(&["explain", &advisory.id[..8]]);
        let turned = account
            .lines()
            .filter(|line| line.ends_with("along its grid, turned to true north"));
        assert!(turned.count() >= 2, "{account}");
    }
}

// No source: the project's rule that a mistake is told with what to do.
#[test]
fn a_source_of_ones_own_that_the_settings_lack_is_named() {
    let output = Place::new("own-moon").run(&["fetch"]);
    let words = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{words}");
    assert!(
        words.contains("names own-moon") && words.contains("[sources.own-moon]"),
        "{words}"
    );
}
