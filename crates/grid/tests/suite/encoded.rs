//! Small random fields in every packing, against what ecCodes reads of them and against the `grib` crate; and any choice of points against all.
//!
//! Source: ecCodes 2.50.0, which encoded and read them (fixtures/packings/generate.py; fields with missing values inside groups are packed by
//! groups.py from the WMO text and read by ecCodes; most of images.py's JPEG 2000 streams are OpenJPEG's). Its doubles are rounded to single precision.

use crate::common::messages;
use forecast::{Gap, Sample};
use grid::{FieldHeader, Message};
use std::collections::{BTreeMap, BTreeSet};

fn fixture(name: &str) -> Vec<u8> {
    let path = format!("{}/../../fixtures/packings/{name}", env!("CARGO_MANIFEST_DIR"));
    std::fs::read(path).unwrap()
}

/// The files of messages, with what ecCodes reads of them and what each message was asked to be.
const FILES: [(&str, &str, &str); 2] = [
    ("fields.grib2", "values.f64", "fields.csv"),
    ("images.grib2", "images.f64", "images.csv"),
];

/// Every message with its header, the values that ecCodes reads, in the order of storage, and what it was asked to be.
fn each_field(mut look: impl FnMut(&Message<'_>, &FieldHeader, &[f64], &str)) {
    for (messages_of, values_of, table_of) in FILES {
        let (octets, doubles) = (fixture(messages_of), fixture(values_of));
        let table = String::from_utf8(fixture(table_of)).unwrap();
        let (doubles, rest) = doubles.as_chunks::<8>();
        assert!(rest.is_empty());
        let mut values = doubles.iter().map(|octets| f64::from_be_bytes(*octets));
        for message in messages(&octets) {
            let headers = grid::read_fields(&message).unwrap();
            let [header] = headers.as_slice() else {
                panic!("message {}: one field each", message.number)
            };
            let points = header.grid.as_ref().unwrap().points() as usize;
            let expected: Vec<f64> = values.by_ref().take(points).collect();
            assert_eq!(expected.len(), points);
            let asked = table.lines().nth(message.number as usize).unwrap();
            look(&message, header, &expected, asked);
        }
        assert_eq!(values.next(), None);
    }
}

/// Numbers of single precision between two values.
fn units_apart(one: f32, other: f32) -> u32 {
    // Ordered as the values are, with both zeros alike.
    let ordered = |value: f32| {
        let magnitude = i64::from(value.to_bits() & 0x7fff_ffff);
        if value.is_sign_negative() {
            -magnitude
        } else {
            magnitude
        }
    };
    u32::try_from((ordered(one) - ordered(other)).unsigned_abs()).unwrap()
}

#[test]
fn every_value_is_what_eccodes_reads() {
    let mut compared: BTreeMap<u16, [u32; 3]> = BTreeMap::new();
    each_field(|message, header, expected, asked| {
        let found = grid::all_values(message, header).unwrap();
        assert_eq!(found.len(), expected.len(), "{}", asked);
        for (at, (found, expected)) in found.iter().zip(expected).enumerate() {
            let [values, missing, one_apart] = compared.entry(header.packing_template).or_default();
            let apart = match found {
                Ok(found) => units_apart(*found, *expected as f32),
                Err(gap) => {
                    assert_eq!(*gap, Gap::Masked);
                    assert!(expected.is_nan(), "point {at} of {}", asked);
                    *missing += 1;
                    continue;
                }
            };
            assert!(
                !expected.is_nan() && apart <= 1,
                "point {at}: {found:?}, ecCodes reads {expected}, of {}",
                asked
            );
            *values += 1;
            *one_apart += apart;
        }
    });
    for (template, [values, missing, one_apart]) in &compared {
        println!(
            "template 5.{template}: {values} values, {one_apart} of them one unit apart; {missing} missing"
        );
    }
    let templates: Vec<u16> = compared.keys().copied().collect();
    assert_eq!(templates, [0, 2, 3, 4, 40, 41, 42]);
}

#[test]
fn every_value_is_what_the_other_decoder_gives() {
    each_field(|message, header, _, asked| {
        // It does not step over what fills the last octet of an interval, and does not clip what a lossy image leaves below 0.
        if asked.contains(",padded,") || asked.contains("typeOfCompressionUsed=1") {
            return;
        }
        let ours = grid::all_values(message, header).unwrap();
        let theirs = grid::all_values_by_library(message, header);
        let theirs = theirs.unwrap_or_else(|damage| panic!("{damage}: {}", asked));
        let largest = |most: f32, value: &f32| most.max(value.abs());
        let scale = ours.iter().flatten().fold(0.0, largest);
        assert_eq!(ours.len(), theirs.len());
        for (at, (one, other)) in ours.iter().zip(&theirs).enumerate() {
            // It computes in single precision: two roundings more.
            let agree = match (one, other) {
                (Ok(one), Ok(other)) => (one - other).abs() <= 4.0 * f32::EPSILON * scale,
                (one, other) => one == other,
            };
            assert!(agree, "point {at}: {one:?} {other:?} of {}", asked);
        }
    });
}

// By definition: a choice of points has the values that they have among all.
#[test]
fn any_choice_of_points_has_the_values_that_all_have() {
    let mut shares = BTreeSet::new();
    each_field(|message, header, _, asked| {
        let grid = header.grid.as_ref().unwrap();
        let all = grid::all_values(message, header).unwrap();
        let nodes: Vec<(u32, u32)> = (0..grid.rows)
            .flat_map(|row| (0..grid.columns).map(move |column| (column, row)))
            .collect();
        let expected =
            |node: &(u32, u32)| -> Sample { all[grid.storage_index(node.0, node.1).unwrap() as usize] };
        for (every, first) in [(1, 0), (2, 1), (3, 0), (7, 5), (50, 31), (1000, 999)] {
            // Backwards, so that the order asked for is not the order of storage.
            let chosen: Vec<_> = nodes.iter().skip(first).step_by(every).rev().copied().collect();
            let found = grid::values_at(message, header, &chosen).unwrap();
            let among_all: Vec<Sample> = chosen.iter().map(expected).collect();
            assert_eq!(found, among_all, "every {every}th from {first} of {}", asked);
            shares.insert((every, chosen.is_empty()));
        }
    });
    assert_eq!(shares.iter().filter(|(_, is_empty)| !is_empty).count(), 6);
}

// What each grid's nodes are is held elsewhere; that seeds of fuzzing lead to every kind of grid is held here.
#[test]
fn grids_that_eccodes_wrote_are_read_or_refused_by_name() {
    let octets = fixture("grids.grib2");
    let read: Vec<(u16, bool)> = messages(&octets)
        .iter()
        .flat_map(|message| grid::read_fields(message).unwrap())
        .map(|header| {
            (
                header.grid_template,
                header.grid.is_some() && header.refusal.is_none(),
            )
        })
        .collect();
    // A rotated Gaussian grid is none of those that are read.
    let expected = [
        (40, true),
        (40, true),
        (1, true),
        (41, false),
        (20, true),
        (30, true),
    ];
    assert_eq!(read, expected);
}
