//! The frame that all check files share.

use std::collections::HashMap;
use std::path::PathBuf;

/// What became of a row.
pub enum Verdict {
    /// It was checked and holds.
    Holds,
    /// It is not checked, for this reason.
    #[expect(dead_code, reason = "the reason is for the reader of the list")]
    Later(&'static str),
    /// It was checked and does not hold, or nobody knows what it is.
    Fails(String),
}

/// One row: its cells by column.
pub struct Row(HashMap<String, String>);

pub fn rows(file: &str) -> Vec<Row> {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(format!("../../fixtures/reference/{file}.csv"));
    let mut reader =
        csv::Reader::from_path(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    reader
        .deserialize()
        .map(|row| Row(row.unwrap_or_else(|error| panic!("{file}.csv: {error}"))))
        .collect()
}

impl Row {
    pub fn text(&self, column: &str) -> &str {
        self.0
            .get(column)
            .unwrap_or_else(|| panic!("{}: no column {column}", self.0["id"]))
    }

    pub fn maybe(&self, column: &str) -> Option<f64> {
        self.text(column).parse().ok()
    }

    pub fn number(&self, column: &str) -> f64 {
        self.maybe(column)
            .unwrap_or_else(|| panic!("{}: {column} is no number", self.0["id"]))
    }

    /// Holds where every pair of found and expected agrees within the row's tolerance.
    pub fn agree(&self, pairs: &[(f64, f64)]) -> Verdict {
        let tolerance = self.number("tolerance");
        self.agree_within(pairs, tolerance)
    }

    pub fn agree_within(&self, pairs: &[(f64, f64)], tolerance: f64) -> Verdict {
        // The sum of rounding errors of the comparison itself; a tolerance of 0 means an exact table entry.
        let close = |&(found, expected): &(f64, f64)| (found - expected).abs() <= tolerance + 1e-12;
        match pairs.iter().find(|pair| !close(pair)) {
            None => Verdict::Holds,
            Some((found, expected)) => {
                Verdict::Fails(format!("found {found}, expected {expected} within {tolerance}"))
            }
        }
    }

    pub fn same<T: PartialEq + std::fmt::Debug>(&self, found: T, expected: T) -> Verdict {
        if found == expected {
            Verdict::Holds
        } else {
            Verdict::Fails(format!("found {found:?}, expected {expected:?}"))
        }
    }

    pub fn unknown(&self) -> Verdict {
        Verdict::Fails("neither checked nor listed".into())
    }

    pub fn complaint(&self, file: &str, why: &str) -> String {
        format!(
            "{file}.csv {} ({}): {why}\n    source: {} [{}]",
            self.text("id"),
            self.text("quantity"),
            self.text("source"),
            self.text("provenance")
        )
    }
}
