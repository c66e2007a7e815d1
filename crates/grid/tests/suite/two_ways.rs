//! Every field of the real and the synthetic files in two ways: values of all points as this crate unpacks them, against the `grib` crate's
//! full decode; and any choice of points against all of them.
//!
//! Source: the `grib` crate 0.20 from the registry, with its own decoders (rust-aec for CCSDS).

use crate::common::{messages, shared};
use forecast::Sample;
use grid::{FieldHeader, Message};
use proptest::prelude::*;
use std::path::{Path, PathBuf};

fn files() -> Vec<PathBuf> {
    let mut files = Vec::new();
    for folder in ["grib-real", "grib-synthetic"] {
        files.extend(shared(folder).into_iter().flat_map(|folder| below(&folder)));
    }
    files.sort();
    files
}

fn below(folder: &Path) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path());
    let mut files = Vec::new();
    for entry in entries {
        if entry.is_dir() {
            files.extend(below(&entry));
        } else if std::fs::read(&entry).unwrap().starts_with(b"GRIB") {
            files.push(entry);
        }
    }
    files
}

/// The fields of a file that are read, with their numbers of points.
fn fields<'a>(messages: &[Message<'a>]) -> Vec<(Message<'a>, FieldHeader)> {
    let of = |message: &Message<'a>| {
        let headers = grid::read_fields(message).unwrap_or_default();
        headers
            .into_iter()
            .map(|header| (*message, header))
            .collect::<Vec<_>>()
    };
    let all = messages.iter().flat_map(of);
    all.filter(|(_, header)| header.refusal.is_none()).collect()
}

/// Single precision against double rounded once: one unit in the last place of either factor.
fn agree(ours: &Sample, theirs: &Sample, scale: f32) -> bool {
    match (ours, theirs) {
        (Ok(ours), Ok(theirs)) => (ours - theirs).abs() <= 4.0 * f32::EPSILON * scale,
        (ours, theirs) => ours == theirs,
    }
}

#[test]
fn every_value_is_what_the_other_decoder_gives() {
    let (mut compared, mut points) = (0, 0);
    for file in files() {
        let bytes = std::fs::read(&file).unwrap();
        // One message of each packing and length tells as much as a hundred alike.
        let mut seen = std::collections::BTreeMap::new();
        for (message, header) in fields(&messages(&bytes)) {
            let alike = seen
                .entry((header.packing_template, header.grid_hash()))
                .or_insert(0);
            *alike += 1;
            if *alike > 3 {
                continue;
            }
            let ours = grid::all_values(&message, &header).unwrap();
            let theirs = grid::all_values_by_library(&message, &header).unwrap();
            let scale = ours
                .iter()
                .flatten()
                .fold(0.0_f32, |most, value| most.max(value.abs()));
            assert_eq!(ours.len(), theirs.len());
            for (at, (one, other)) in ours.iter().zip(&theirs).enumerate() {
                assert!(
                    agree(one, other, scale),
                    "{} message {} point {at}: {one:?} {other:?}",
                    file.display(),
                    message.number
                );
            }
            compared += 1;
            points += ours.len();
        }
    }
    println!("{compared} fields, {points} points");
    assert!(compared > 100 || shared("grib-real").is_none());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    // By definition: a choice of points has the values that they have among all.
    #[test]
    fn any_choice_of_points_has_the_values_that_all_have(
        file in any::<prop::sample::Index>(),
        field in any::<prop::sample::Index>(),
        chosen in prop::collection::vec(any::<prop::sample::Index>(), 1..40),
    ) {
        let files = files();
        if files.is_empty() {
            return Ok(());
        }
        let bytes = std::fs::read(file.get(&files)).unwrap();
        let messages = messages(&bytes);
        let fields = fields(&messages);
        if fields.is_empty() {
            return Ok(());
        }
        let (message, header) = field.get(&fields);
        let Some(grid) = &header.grid else { return Ok(()) };
        let all = grid::all_values(message, header).unwrap();
        let nodes: Vec<(u32, u32)> = chosen
            .iter()
            .map(|point| point.index(all.len()) as u64)
            .map(|point| ((point % u64::from(grid.columns)) as u32, (point / u64::from(grid.columns)) as u32))
            .collect();
        let found = grid::values_at(message, header, &nodes).unwrap();
        for (node, value) in nodes.iter().zip(&found) {
            let at = grid.storage_index(node.0, node.1).unwrap() as usize;
            prop_assert_eq!(value, &all[at]);
        }
    }
}
