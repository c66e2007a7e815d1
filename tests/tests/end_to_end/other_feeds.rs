//! ECMWF's and DWD's feeds all the way to advisories and `cringle conditions`. Source of the expected values: the shared set's
//! tables, from the formulas of the invented week; tolerances are those its papers give for packing.

use advisory::document::{Advisory, CallWord};
use cringle_tests::{program, shared, time};
use serde_json::Value;
use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::process::Command;

const KNOT: f64 = 1852.0 / 3600.0;

struct Place {
    folder: tempfile::TempDir,
    feeds: PathBuf,
    now: &'static str,
}

impl Place {
    /// A club on the home pool that takes its forecasts from these sources.
    fn new(now: &'static str, policy: &str) -> Option<Self> {
        let feeds = shared("grib-synthetic")?;
        let place = Self {
            folder: tempfile::tempdir().expect("a folder"),
            feeds,
            now,
        };
        let club = crate::holes::CLUB.replacen("[[venues]]", &format!("[policy]\n{policy}\n[[venues]]"), 1);
        std::fs::write(place.path("club.toml"), club).expect("the club");
        Some(place)
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn printed(&self, arguments: &[&str]) -> String {
        let mut command = Command::new(program());
        command.args(arguments).args(["--now", self.now]);
        let paths: [(&str, &Path); 3] = [
            ("--club", &self.path("club.toml")),
            ("--feeds", &self.feeds),
            ("--store", &self.path("store.db")),
        ];
        for (flag, path) in paths {
            command.arg(flag).arg(path);
        }
        let output = command.output().expect("the program starts");
        assert!(
            output.status.success(),
            "{}",
            String::from_utf8_lossy(&output.stderr)
        );
        String::from_utf8(output.stdout).expect("text")
    }

    fn tuesday(&self) -> Advisory {
        let all: Vec<Advisory> =
            serde_json::from_str(&self.printed(&["advise", "--json"])).expect("advisories");
        let tuesday = |advisory: &Advisory| advisory.session.id.starts_with("tuesday");
        all.into_iter().find(tuesday).expect("the session")
    }
}

fn rows(file: &Path) -> Vec<HashMap<String, String>> {
    let mut reader = csv::Reader::from_path(file).expect("the table");
    reader.deserialize().map(|row| row.expect("a row")).collect()
}

fn number(row: &HashMap<String, String>, column: &str) -> f64 {
    row[column].parse().expect("a number")
}

#[test]
fn a_session_on_ecmwf_alone_has_its_members_winds_and_three_hour_gusts() {
    let policy = "wind_sources = [\"ecmwf-ens\", \"ecmwf-ifs\"]\ndeterministic_sources = [\"ecmwf-ifs\"]\n\
                  wave_sources = [\"ecmwf-wave\"]\nweather_sources = [\"ecmwf-ifs\"]";
    let Some(place) = Place::new("2030-05-13T13:00:00Z", policy) else {
        return;
    };
    let advisory = place.tuesday();
    // ECMWF has no visibility, and this level has a limit on it.
    assert_eq!(advisory.call, CallWord::NoCall, "{:?}", advisory.reasons);
    assert!(
        advisory
            .missing
            .iter()
            .all(|missing| format!("{missing:?}").contains("isibility")),
        "{:?}",
        advisory.missing
    );
    assert!(advisory.sources.iter().any(|of| of.attribution.contains("ECMWF")));

    // Kept values against the tables: every member at 12 UTC, step 36.
    let fetched: Vec<Value> = place
        .printed(&["conditions", "--venue", "node", "--source", "ecmwf-ens", "--json"])
        .lines()
        .map(|line| serde_json::from_str(line).expect("JSON"))
        .collect();
    let kept = |member: u64, parameter: &str| {
        let row = fetched.iter().find(|row| {
            row["member"] == member
                && row["parameter"] == parameter
                && row["valid_time"] == "2030-05-14T12:00:00Z"
        });
        row.and_then(|row| row["value"].as_f64()).expect("a value")
    };
    let table = rows(&place.feeds.join("expected_ensemble.csv"));
    let of_noon = table.iter().filter(|row| {
        row["system"] == "enfo" && row["point"] == "home-pool" && row["valid_time"] == "2030-05-14T12:00:00Z"
    });
    let mut checked = 0;
    for row in of_noon {
        let member = number(row, "member") as u64;
        let speed = kept(member, "wind-u").hypot(kept(member, "wind-v")) / KNOT;
        assert!(
            (speed - number(row, "grid_speed_kn")).abs() < 0.02,
            "member {member}: {speed}"
        );
        let gust = kept(member, "gust") / KNOT;
        assert!(
            (gust - number(row, "grid_gust_kn")).abs() < 0.02,
            "member {member}: {gust}"
        );
        checked += 1;
    }
    assert_eq!(checked, 50);
}

#[test]
fn a_native_mesh_gives_its_nearest_cells_wind_and_no_call_without_gusts() {
    let policy = "wind_sources = [\"icon-eu-native\"]\ndeterministic_sources = [\"icon-eu-native\"]";
    let Some(place) = Place::new("2030-05-13T12:00:00Z", policy) else {
        return;
    };
    assert_eq!(place.tuesday().call, CallWord::NoCall);
    let printed = place.printed(&[
        "conditions",
        "--venue",
        "node",
        "--source",
        "icon-eu-native",
        "--json",
    ]);
    let kept: Vec<Value> = printed
        .lines()
        .map(|line| serde_json::from_str(line).expect("JSON"))
        .collect();
    let table = rows(&place.feeds.join("expected_unstructured.csv"));
    let run = kept[0]["run"].as_str().expect("a run").to_owned();
    let mut checked = 0;
    for row in table.iter().filter(|row| row["point"] == "home-pool") {
        let of_run = time(&format!(
            "{}-{}-{}T{}:00:00Z",
            &row["run"][..4],
            &row["run"][4..6],
            &row["run"][6..8],
            &row["run"][8..]
        ));
        if time(&run) != of_run {
            continue;
        }
        let valid = of_run + chrono::TimeDelta::hours(number(row, "step_h") as i64);
        for (parameter, column) in [("wind-u", "u_ms"), ("wind-v", "v_ms")] {
            let found = kept.iter().find(|of| {
                of["parameter"] == parameter && of["valid_time"].as_str().is_some_and(|at| time(at) == valid)
            });
            let found = found.and_then(|of| of["value"].as_f64()).expect("a value");
            assert!(
                (found - number(row, column)).abs() < 0.02 * KNOT,
                "{parameter} at {valid}: {found}"
            );
            checked += 1;
        }
    }
    assert!(checked >= 2, "{checked}");
    let gusts = kept.iter().filter(|of| of["parameter"] == "gust");
    assert!(
        gusts
            .into_iter()
            .all(|of| of["value"].is_null() && of["missing"].is_string())
    );
}

/// The worse of the two probabilities makes the call; each alone is what a club that names it alone is told.
#[test]
fn two_ensembles_are_counted_side_by_side_and_the_worse_makes_the_call() {
    let now = "2030-05-13T15:00:00Z";
    let policy = |wind: &str| format!("wind_sources = {wind}\ndeterministic_sources = [\"gfs\"]");
    let advised = |wind: &str| Some(Place::new(now, &policy(wind))?.tuesday());
    let Some(both) = advised("[\"gefs\", \"ecmwf-ens\"]") else {
        return;
    };
    let (Some(one), Some(other)) = (advised("[\"gefs\"]"), advised("[\"ecmwf-ens\"]")) else {
        return;
    };
    let second = both.sureness.second.as_ref().expect("the second is counted");
    assert_eq!(
        (both.sureness.source.as_deref(), second.source.as_str()),
        (Some("gefs"), "ecmwf-ens")
    );
    assert_eq!(
        (second.members, second.p_no_go, second.p_marginal_or_worse),
        (
            other.sureness.members,
            other.sureness.p_no_go,
            other.sureness.p_marginal_or_worse
        )
    );
    assert_eq!(both.sureness.members, one.sureness.members);
    let worse = |a: Option<f64>, b: Option<f64>| a.zip(b).map(|(a, b)| a.max(b));
    let (one, other, both_of) = (&one.sureness, &other.sureness, &both.sureness);
    assert_eq!(both_of.p_no_go, worse(one.p_no_go, other.p_no_go));
    assert_eq!(
        both_of.p_marginal_or_worse,
        worse(one.p_marginal_or_worse, other.p_marginal_or_worse)
    );
    assert!(both_of.p_no_go.is_some(), "both are counted");
    assert!(both.tightenings.iter().any(|told| told.code == "second-source"));
    assert!(
        both.sureness.words.contains("ecmwf-ens"),
        "{}",
        both.sureness.words
    );
}
