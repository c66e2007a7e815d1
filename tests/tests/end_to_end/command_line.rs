//! The command line: exit codes, what is said, nothing written when something is wrong.

use cringle_tests::{Scene, program, workspace};
use std::process::Command;

#[test]
fn an_impossible_club_file_gives_all_its_mistakes_and_writes_nothing() {
    let text =
        std::fs::read_to_string(workspace().join("fixtures/club/impossible.toml")).expect("the fixture");
    let scene = Scene::new(&text);
    let output = scene.run(&["advise"]);
    assert_eq!(output.status.code(), Some(2));
    let words = String::from_utf8_lossy(&output.stderr).into_owned();
    let lines = words
        .lines()
        .filter(|line| line.contains("club.toml:") && line.contains("expected"))
        .count();
    assert!(lines >= 20, "{words}");
    assert!(!scene.store().exists(), "no store was made");
}

#[test]
fn a_venue_off_the_grid_is_a_mistake_with_its_place_in_the_file() {
    let text = std::fs::read_to_string(workspace().join("fixtures/hand/club.toml")).expect("the fixture");
    let scene = Scene::new(&text.replace("lat = 43.5, lon = -15.5", "lat = 50.5, lon = -4.0"));
    let output = Command::new(program())
        .arg("check")
        .arg(scene.club())
        .arg("--feeds")
        .arg(scene.feeds())
        .args(["--now", &scene.now])
        .output()
        .expect("it runs");
    let words = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(2), "{words}");
    assert!(
        words.contains("club.toml:") && words.contains("points"),
        "{words}"
    );
}

#[test]
fn a_boat_with_dimensions_and_no_table_is_proposed_one_that_passes_when_pasted() {
    let text = std::fs::read_to_string(workspace().join("fixtures/club/small.toml")).expect("the fixture");
    let (before, rest) = text.split_once("reef_table = [").expect("a table");
    let (_, after) = rest.split_once("\n]").expect("the table ends");
    let dimensions = "dimensions = { i_m = 13.2, j_m = 3.9, p_m = 11.9, e_m = 4.2, waterline_m = 8.5, \
                      displacement_kg = 5200, gm_m = 1.1 }";
    let checked = |table: &str| {
        let scene = Scene::new(&format!("{before}{dimensions}\n{table}{after}"));
        let output = Command::new(program())
            .arg("check")
            .arg(scene.club())
            .output()
            .expect("it runs");
        (
            output.status.code(),
            String::from_utf8_lossy(&output.stdout).into_owned(),
            String::from_utf8_lossy(&output.stderr).into_owned(),
        )
    };
    let (code, _, words) = checked("");
    assert_eq!(code, Some(2), "{words}");
    let proposed = words
        .split_once("proposed: confirm with the boat: ")
        .and_then(|(_, proposed)| proposed.lines().next())
        .expect("a table is proposed");
    let (code, printed, words) = checked(proposed);
    assert_eq!((code, words.as_str()), (Some(0), ""));
    assert!(printed.contains("(comfortable)"), "{printed}");
}

#[test]
fn windows_are_printed_and_given_as_json() {
    let scene = Scene::by_hand();
    let text = scene.printed(&["windows", "--hours", "3", "--call", "marginal"]);
    assert!(text.contains("leave with"), "{text}");
    let json = scene.printed(&["windows", "--hours", "3", "--json"]);
    let openings: Vec<serde_json::Value> = serde_json::from_str(&json).expect("a list");
    for opening in &openings {
        let time = |key: &str| {
            opening[key]
                .as_str()
                .and_then(|at| chrono::DateTime::parse_from_rfc3339(at).ok())
                .expect("a time")
        };
        assert!(
            time("to") - time("from") >= chrono::TimeDelta::hours(3),
            "{opening}"
        );
        assert_eq!(opening["call"], "go");
    }
    let output = scene.run(&["windows", "--boat", "none"]);
    assert_eq!(output.status.code(), Some(2));
}

#[test]
fn one_session_is_printed_in_full_within_eighty_columns_and_plain() {
    let scene = Scene::by_hand();
    let text = scene.printed(&["advise", "tuesday"]);
    for needed in [
        "Marginal",
        "reef",
        "Gusts",
        "not checked",
        "The skipper on the water decides",
        "8 no-go",
    ] {
        assert!(text.contains(needed), "{needed}:\n{text}");
    }
    assert!(!text.contains('\u{1b}'), "a pipe gets no colour");
    assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
    let output = scene.run(&["advise", "nothing-of-the-kind"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&output.stderr).contains("tuesday@"));
}
