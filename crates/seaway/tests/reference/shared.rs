//! The whole collection, where it is at hand: the copies are true, and files that only later work needs are counted.

use shared_files::shared;
use std::path::PathBuf;

/// Files that no check here uses, their rows, and who needs them.
const LATER: [(&str, usize, &str); 7] = [
    (
        "h_tide_constituents",
        74,
        "no tide is predicted: the club lists its high waters",
    ),
    (
        "h_tide_predictions",
        13,
        "no tide is predicted: the club lists its high waters",
    ),
    (
        "h_tide_rules",
        6,
        "no height between high and low water is worked out, and no constituent",
    ),
    ("i_verification", 16, "the replay of past seasons"),
    ("j_grib2_codes", 18, "reading GRIB, not seaway"),
    ("j_grib2_packing", 7, "reading GRIB, not seaway"),
    ("distrusted", 24, "values not to be used"),
];

#[test]
fn the_copies_are_true_and_no_file_is_forgotten() {
    let Some(folder) = shared("reference") else { return };
    let copied: Vec<&str> = crate::CASES.iter().map(|case| case.0).collect();
    for entry in folder.read_dir().expect("a readable folder") {
        let path = entry.expect("an entry").path();
        let name = path
            .file_stem()
            .and_then(|stem| stem.to_str())
            .unwrap_or_default()
            .to_owned();
        if path.extension().is_none_or(|extension| extension != "csv") {
            continue;
        }
        if copied.contains(&name.as_str()) {
            let copy = PathBuf::from(env!("CARGO_MANIFEST_DIR"))
                .join(format!("../../fixtures/reference/{name}.csv"));
            let same = std::fs::read(&path).expect("readable") == std::fs::read(&copy).expect("readable");
            assert!(same, "{} differs from {}", copy.display(), path.display());
            continue;
        }
        let rows = csv::Reader::from_path(&path).expect("readable").records().count();
        let listed = LATER.iter().find(|later| later.0 == name);
        assert_eq!(
            listed.map(|later| later.1),
            Some(rows),
            "{name}.csv is neither checked nor listed with its rows"
        );
    }
}
