//! Real index files of NOAA and ECMWF and the byte ranges that were worked out from them by another program.
//!
//! Source: the shared set of real files, `sidecars.csv` and `sidecar_ranges.csv`; where a data file was at hand every
//! offset was checked against it.

#![expect(clippy::unwrap_used, reason = "a test fails loudly and says when it skips")]

use chrono::{DateTime, NaiveDateTime, Utc};
use feeds::{EcmwfIndex, NoaaIndex};
use shared_files::shared;
use std::path::PathBuf;

fn rows(path: PathBuf) -> Vec<std::collections::HashMap<String, String>> {
    csv::Reader::from_path(path)
        .unwrap()
        .deserialize()
        .map(Result::unwrap)
        .collect()
}

fn run_of(date: &str) -> DateTime<Utc> {
    NaiveDateTime::parse_from_str(&format!("{}00", &date[..10]), "%Y%m%d%H%M")
        .unwrap()
        .and_utc()
}

fn index(file: &str, date: &str) -> NoaaIndex {
    let path = shared("grib-real").unwrap().join(file);
    NoaaIndex::parse(&std::fs::read_to_string(path).unwrap(), run_of(date))
}

#[test]
fn every_range_of_a_noaa_sidecar_agrees() {
    let Some(path) = shared("grib-real/sidecar_ranges.csv") else {
        return;
    };
    let mut checked = 0;
    for row in rows(path).iter().filter(|row| row["file"].ends_with(".idx")) {
        let index = index(&row["file"], &row["date"]);
        let line: usize = row["line"].parse().unwrap();
        let record = index.records.iter().find(|record| record.line == line).unwrap();
        let name = format!("{} line {line}", row["file"]);
        assert_eq!(
            record.range.first,
            row["byte_start"].parse::<u64>().unwrap(),
            "{name}"
        );
        // An index does not tell where its last message ends; the rows do where the data file was at hand.
        let size_of_data =
            || std::fs::metadata(shared("grib-real")?.join(&row["file"]).with_extension("")).ok();
        let last = record
            .range
            .last
            .or_else(|| size_of_data().map(|data| data.len() - 1));
        assert_eq!(last, row["byte_end_inclusive"].parse().ok(), "{name}");
        if record.range.last.is_some() {
            assert_eq!(record.range.length(), row["length"].parse().ok(), "{name}");
        }
        assert_eq!(
            (&record.variable, &record.level),
            (&row["param"], &row["level"]),
            "{name}"
        );
        assert_eq!(record.forecast, row["forecast"], "{name}");
        let found = index
            .find(&record.variable, &record.level, &record.forecast, &record.tail)
            .unwrap();
        assert_eq!(found.line, line, "{name}: an exact match finds this line first");
        checked += 1;
    }
    assert_eq!(checked, 73, "rows of NOAA indexes in sidecar_ranges.csv");
}

#[test]
fn every_line_of_a_noaa_sidecar_is_read() {
    let Some(path) = shared("grib-real/sidecars.csv") else {
        return;
    };
    let ranges = rows(shared("grib-real/sidecar_ranges.csv").unwrap());
    for row in rows(path).iter().filter(|row| row["file"].ends_with(".idx")) {
        let date = &ranges.iter().find(|range| range["file"] == row["file"]).unwrap()["date"];
        let index = index(&row["file"], date);
        assert_eq!(
            index.records.len(),
            row["records"].parse::<usize>().unwrap(),
            "{}",
            row["file"]
        );
        assert!(index.faults.is_empty(), "{}: {:?}", row["file"], index.faults);
    }
}

#[test]
fn every_range_of_an_ecmwf_sidecar_agrees() {
    let Some(path) = shared("grib-real/sidecar_ranges.csv") else {
        return;
    };
    let mut checked = 0;
    for row in rows(path).iter().filter(|row| row["file"].ends_with(".index")) {
        let text = std::fs::read_to_string(shared("grib-real").unwrap().join(&row["file"])).unwrap();
        let index = EcmwfIndex::parse(&text, run_of(&row["date"]));
        let name = format!("{} line {}", row["file"], row["line"]);
        let line: usize = row["line"].parse().unwrap();
        let record = index.records.iter().find(|record| record.line == line).unwrap();
        assert_eq!(
            record.range.first,
            row["byte_start"].parse::<u64>().unwrap(),
            "{name}"
        );
        assert_eq!(
            record.range.last,
            row["byte_end_inclusive"].parse().ok(),
            "{name}"
        );
        assert_eq!(record.range.length(), row["length"].parse().ok(), "{name}");
        assert_eq!(record.param, row["param"], "{name}");
        let found = index.find(&record.param, &record.levtype, &record.step, record.number);
        assert_eq!(found.map(|found| found.line), Some(line), "{name}");
        checked += 1;
    }
    assert_eq!(checked, 5, "rows of ECMWF indexes in sidecar_ranges.csv");
}

#[test]
fn every_line_of_an_ecmwf_sidecar_is_read() {
    let Some(path) = shared("grib-real/sidecars.csv") else {
        return;
    };
    for row in rows(path).iter().filter(|row| row["file"].ends_with(".index")) {
        let text = std::fs::read_to_string(shared("grib-real").unwrap().join(&row["file"])).unwrap();
        // Its own name says its run: 1 March 2025, 00 UTC.
        let index = EcmwfIndex::parse(&text, run_of("2025030100"));
        assert_eq!(
            index.records.len(),
            row["records"].parse::<usize>().unwrap(),
            "{}",
            row["file"]
        );
        assert!(index.faults.is_empty(), "{:?}", index.faults);
    }
}
