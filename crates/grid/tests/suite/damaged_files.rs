//! Damaged and hostile files: what each must be refused with, and what must still be usable.
//!
//! Source: ../shared/grib-bad, bad.csv and intact_values.csv. Memory, time and bzip2 are tested at the command.

use crate::common::{close, shared, value_at};
use grid::{Damage, Frame};
use seaway::LatLon;
use std::collections::HashMap;

type Row = HashMap<String, String>;

fn rows(path: &std::path::Path) -> Vec<Row> {
    csv::Reader::from_path(path)
        .unwrap()
        .deserialize()
        .collect::<Result<_, _>>()
        .unwrap()
}

/// All damage of a file, whether of frames, headers or values.
fn damage_of(bytes: &[u8]) -> Vec<Damage> {
    let mut found = Vec::new();
    for frame in grid::split(bytes) {
        match frame {
            Frame::Damage(damage) => found.push(damage),
            Frame::Message(message) => match grid::read_fields(&message) {
                Err(damage) => found.push(damage),
                Ok(fields) => {
                    let failed = fields
                        .iter()
                        .filter_map(|field| grid::values_at(&message, field, &[(0, 0)]).err());
                    found.extend(failed);
                }
            },
        }
    }
    found
}

#[test]
fn each_file_is_refused_where_it_is_damaged() {
    let Some(folder) = shared("grib-bad") else { return };
    for row in rows(&folder.join("bad.csv")) {
        if row["file"].ends_with(".bz2") {
            continue;
        }
        let bytes = std::fs::read(folder.join(&row["file"])).unwrap();
        let found = damage_of(&bytes);
        let first = found
            .first()
            .unwrap_or_else(|| panic!("no damage found in {row:?}"));
        let words = first.in_file(&row["file"]);
        println!("{words}");
        assert!(words.contains(&row["file"]), "{words}");
        assert_eq!(found.len(), 1, "{found:?}");
        assert_eq!(first.message, row["bad_message"].parse().ok(), "{words}");
        assert_eq!(first.section, row["bad_section"].parse().ok(), "{words}");
        let says_edition = words.contains("GRIB edition 1 is not supported");
        assert_eq!(
            says_edition,
            row["class"] == "GRIB1 where GRIB2 is expected",
            "{words}"
        );
        if row["class"] == "trailing garbage" {
            assert_eq!(first.offset, row["damage_offset"].parse().unwrap());
            assert!(first.is_outside_messages());
        } else {
            assert!(!first.is_outside_messages());
        }
        if let Some(section) = first.section {
            assert!(words.contains(&format!("section {section}")), "{words}");
        }
    }
}

#[test]
fn messages_beside_the_damage_keep_their_values() {
    let Some(folder) = shared("grib-bad") else { return };
    let mut compared = 0;
    for row in rows(&folder.join("intact_values.csv")) {
        let bytes = std::fs::read(folder.join(&row["file"])).unwrap();
        let number: u32 = row["message"].parse().unwrap();
        let message = grid::split(&bytes)
            .into_iter()
            .find_map(|frame| match frame {
                Frame::Message(message) if message.number == number => Some(message),
                _ => None,
            })
            .unwrap_or_else(|| panic!("message {number} is lost in {row:?}"));
        let field = &grid::read_fields(&message).unwrap()[row["field"].parse::<usize>().unwrap() - 1];
        let place = LatLon::new(row["lat"].parse().unwrap(), row["lon"].parse().unwrap()).unwrap();
        let (nearest, bilinear) = value_at(&message, field, place).unwrap();
        for found in [nearest, bilinear] {
            let expected = row["nearest_value"].parse().unwrap();
            assert!(
                close(found, expected, row["tolerance"].parse().unwrap()),
                "{found:?} for {row:?}"
            );
        }
        compared += 1;
    }
    println!("{compared} values of intact messages");
    assert_eq!(compared, 27);
}
