//! Published packings and code table entries.
//!
//! Source: fixtures/reference/j_grib2_packing.csv and j_grib2_codes.csv; each row names its own source and provenance.

use crate::built::{Built, BuiltField, instant_product, representation};
use chrono::TimeDelta;
use std::collections::HashMap;

type Row = HashMap<String, String>;

fn rows(name: &str) -> Vec<Row> {
    let path = format!("{}/../../fixtures/reference/{name}", env!("CARGO_MANIFEST_DIR"));
    csv::Reader::from_path(path)
        .unwrap()
        .deserialize()
        .collect::<Result<_, _>>()
        .unwrap()
}

fn octets(hex: &str) -> Vec<u8> {
    let digits: String = hex.split_whitespace().collect();
    (0..digits.len() / 2)
        .map(|at| u8::from_str_radix(&digits[2 * at..2 * at + 2], 16).unwrap())
        .collect()
}

fn source(row: &Row) -> String {
    format!("{}: {} ({})", row["id"], row["source"], row["provenance"])
}

/// Section 5 as the row has it: octets 12 to 19 as given, or made from its numbers.
fn packed(row: &Row) -> BuiltField {
    let bits: u8 = row["bits"].parse().unwrap();
    let mut template = representation(0, 0.0, 0, 0, bits);
    let given = octets(&row["octets_12_19_hex"]);
    if given.is_empty() {
        let reference = row["r_ieee"].parse().unwrap();
        template = representation(
            0,
            reference,
            row["e"].parse().unwrap(),
            row["d"].parse().unwrap(),
            bits,
        );
    } else {
        template[2..10].copy_from_slice(&given);
    }
    let data = match (row["data_octets_hex"].as_str(), bits) {
        (_, 0) => Vec::new(),
        ("", _) => row["x"]
            .split_whitespace()
            .map(|value| value.parse().unwrap())
            .collect(),
        (hex, _) => octets(hex),
    };
    BuiltField {
        representation: template,
        packed_values: 4,
        bitmap: vec![255],
        data,
    }
}

#[test]
fn packings_worked_by_hand() {
    let mut checked = 0;
    for row in rows("j_grib2_packing.csv") {
        if row["quantity"] == "latitude_microdegrees" {
            let mut built = Built::row(2, packed_pair());
            let raw = u32::from_be_bytes(octets(&row["data_octets_hex"]).try_into().unwrap());
            let magnitude = (raw & 0x7fff_ffff) as i32;
            let lat = if raw >> 31 == 1 { -magnitude } else { magnitude };
            built.corners = [lat, 0, lat, 1_000_000];
            let octets = built.octets();
            let wanted = raw.to_be_bytes();
            assert!(
                octets.windows(4).any(|four| four == wanted),
                "the test writes the row's own octets"
            );
            let header = &grid::read_fields(&crate::built::only_message(&octets).unwrap()).unwrap()[0];
            let expected: f64 = row["expected"].parse().unwrap();
            let found = header.grid.as_ref().unwrap().regular().unwrap().first_lat;
            assert!(
                (found - expected).abs() <= row["tolerance"].parse().unwrap(),
                "{found}, {}",
                source(&row)
            );
        } else {
            let found = Built::row(4, packed(&row))
                .values(0)
                .unwrap_or_else(|damage| panic!("{damage} {row:?}"));
            // The row of a constant field follows regulation 92.9.4 to the letter, 75 / 10^1. ecCodes 2.50.0 reads the same
            // octets as 75, and writes a constant of 75 so: what is in use decides, see `Scaling::constant`.
            let undivided = if row["id"] == "J-grib2_packing-06" {
                10.0
            } else {
                1.0
            };
            let expected = row["expected"]
                .split_whitespace()
                .map(|value| undivided * value.parse::<f64>().unwrap());
            for (found, expected) in found.into_iter().zip(expected) {
                let found = f64::from(found.unwrap());
                // Samples are kept in single precision: half of its last place comes on top of the tolerance.
                let tolerance = row["tolerance"].parse::<f64>().unwrap() + expected.abs() * 6.0e-8;
                assert!(
                    (found - expected).abs() <= tolerance,
                    "{found} for {expected}, {}",
                    source(&row)
                );
            }
        }
        checked += 1;
    }
    assert_eq!(checked, 7);
}

fn packed_pair() -> BuiltField {
    BuiltField {
        representation: representation(0, 1.0, 0, 0, 0),
        packed_values: 2,
        bitmap: vec![255],
        data: Vec::new(),
    }
}

#[test]
fn code_table_entries() {
    let number = |row: &Row, column: &str| row[column].parse::<u8>().unwrap();
    for row in rows("j_grib2_codes.csv") {
        match row["quantity"].as_str() {
            "parameter" => {
                let found = grid::names::quantity(
                    number(&row, "discipline"),
                    number(&row, "category"),
                    number(&row, "number"),
                );
                assert_eq!(
                    found,
                    Some((row["expected"].as_str(), row["unit"].as_str())),
                    "{}",
                    source(&row)
                );
            }
            "product_template" | "data_template" | "grid_template" => {
                let octets = Built::row(2, packed_pair()).octets();
                let header = &grid::read_fields(&crate::built::only_message(&octets).unwrap()).unwrap()[0];
                let found = match row["quantity"].as_str() {
                    "product_template" => header.product_template,
                    "data_template" => header.packing_template,
                    _ => header.grid_template,
                };
                assert_eq!(found, u16::from(number(&row, "number")), "{}", source(&row));
                assert_eq!(header.refusal, None, "{}", source(&row));
            }
            "time_unit" => assert_eq!(
                ahead(number(&row, "number"), 5),
                TimeDelta::hours(5),
                "{}",
                source(&row)
            ),
            other => panic!("unknown quantity {other}"),
        }
    }
}

#[test]
fn units_of_forecast_time() {
    // Source: code table 4.4, as the note of row J-grib2_codes-18 lists it.
    let expected = [
        (0, 60),
        (1, 3600),
        (2, 86_400),
        (10, 10_800),
        (11, 21_600),
        (12, 43_200),
        (13, 1),
    ];
    for (unit, seconds) in expected {
        assert_eq!(ahead(unit, 3), TimeDelta::seconds(3 * seconds));
    }
    // Regulation 92.1.5: a negative forecast time is signed by its first bit.
    assert_eq!(ahead(0, -15), TimeDelta::minutes(-15));
}

fn ahead(unit: u8, number: i32) -> TimeDelta {
    let mut built = Built::row(2, packed_pair());
    built.product = instant_product(unit, number);
    let octets = built.octets();
    let header = &grid::read_fields(&crate::built::only_message(&octets).unwrap()).unwrap()[0];
    header.valid - header.reference
}
