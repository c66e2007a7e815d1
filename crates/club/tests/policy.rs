//! The policy's defaults against published figures. Most of its numbers are common practice without a source; these have one.

#![expect(
    clippy::expect_used,
    reason = "all of this crate is a test; clippy only sees that within functions marked so"
)]

use club::Policy;
use std::collections::HashMap;

type Row = HashMap<String, String>;

fn rows(file: &str) -> Vec<Row> {
    let path = format!("{}/../../fixtures/reference/{file}", env!("CARGO_MANIFEST_DIR"));
    let mut reader = csv::Reader::from_path(path).expect("the check values");
    reader.deserialize().map(|row| row.expect("a row")).collect()
}

fn number(row: &Row, column: &str) -> f64 {
    row[column].parse().expect("a number")
}

/// What a row is against, for the message of a failure.
fn origin(row: &Row) -> String {
    format!("{}: source: {} [{}]", row["id"], row["source"], row["provenance"])
}

/// Source: fixtures/reference/g_fog_thunder.csv; each row names its own.
#[test]
fn fog_and_thunder_begin_where_published_figures_say() {
    let policy = Policy::default();
    let mut checked = 0;
    for row in rows("g_fog_thunder.csv") {
        let holds = match (row["quantity"].as_str(), row["name"].as_str()) {
            ("fog_seldom_if_spread_above", _) => {
                (policy.fog_spread_c - number(&row, "expected")).abs() <= number(&row, "tolerance")
            }
            ("marine_visibility_term", "poor") => policy.poor_visibility_m.0 == number(&row, "expected_max"),
            // Thunder is told in air that is marginally unstable, and stops from where it is moderately so.
            ("cape_band", "marginally unstable") => (number(&row, "expected_min")
                ..number(&row, "expected_max"))
                .contains(&policy.thunder_cape_j_kg),
            ("cape_band", "moderately unstable") => {
                policy.squall_stop_cape_j_kg == number(&row, "expected_min")
            }
            _ => continue,
        };
        assert!(holds, "{}", origin(&row));
        checked += 1;
    }
    assert_eq!(checked, 4);
}

/// Source: fixtures/reference/g_cold.csv: below 15 C cold water shocks; the seas of the source average 12.
#[test]
fn cold_water_is_told_where_it_shocks() {
    let mut checked = 0;
    for row in rows("g_cold.csv")
        .iter()
        .filter(|row| row["quantity"] == "cold_water_limit")
    {
        assert!(
            Policy::default().cold_water_c.0 < number(row, "expected"),
            "{}",
            origin(row)
        );
        checked += 1;
    }
    assert_eq!(checked, 1);
}
