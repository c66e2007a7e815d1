//! Values at places out of every message of a file, read message by message: what `tests/bench/whole_runs.py` measures.
//!
//! `places_of_file FILE LAT,LON LAT,LON …` prints a line a message: the bilinear values, `-` where missing. Cells are looked for once a grid.

#![expect(
    clippy::unwrap_used,
    reason = "an example may fail by panicking; its output is its work"
)]

use grid::{Cell, FieldHeader, GridDefinition, Message, WantedNodes};
use seaway::LatLon;
use std::collections::HashMap;
use std::fmt::Write as _;
use std::fs::File;
use std::io::{BufWriter, Read, Write};

fn place(text: &str) -> LatLon {
    let (lat, lon) = text.split_once(',').unwrap();
    LatLon::new(lat.parse().unwrap(), lon.parse().unwrap()).unwrap()
}

/// The next message of a file into the room of the one before; false at its end.
fn next(file: &mut File, octets: &mut Vec<u8>) -> bool {
    octets.resize(16, 0);
    if file.read_exact(octets).is_err() {
        return false;
    }
    assert_eq!(&octets[..4], b"GRIB");
    let length = u64::from_be_bytes(octets[8..16].try_into().unwrap());
    octets.resize(usize::try_from(length).unwrap(), 0);
    file.read_exact(&mut octets[16..]).unwrap();
    true
}

/// The cells of places on a grid, and their corners as they are read.
fn find(
    message: &Message<'_>,
    field: &FieldHeader,
    grid: &GridDefinition,
    places: &[LatLon],
) -> (Vec<Cell>, WantedNodes) {
    let cells: Vec<_> = places.iter().map(|&place| grid.cell(place).unwrap()).collect();
    let corners = cells.iter().flat_map(|cell| &cell.corners);
    let nodes: Vec<_> = corners.map(|corner| (corner.column, corner.row)).collect();
    let wanted = WantedNodes::new(message, field, &nodes).unwrap();
    (cells, wanted)
}

fn main() {
    let mut arguments = std::env::args().skip(1);
    // Without a file there is nothing to do: so it is run when all targets are.
    let Some(name) = arguments.next() else { return };
    let places: Vec<LatLon> = arguments.map(|text| place(&text)).collect();
    let mut file = File::open(name).unwrap();
    let mut out = BufWriter::new(std::io::stdout().lock());
    let (mut octets, mut line, mut number) = (Vec::new(), String::new(), 0);
    let mut found = HashMap::new();
    while next(&mut file, &mut octets) {
        number += 1;
        let message = Message {
            number,
            offset: 0,
            bytes: &octets,
        };
        for field in grid::read_fields(&message).unwrap() {
            let grid = field.grid.as_ref().unwrap();
            let (cells, wanted) = found
                .entry(grid.hash())
                .or_insert_with(|| find(&message, &field, grid, &places));
            let samples = grid::values_of(&message, &field, wanted).unwrap();
            line.clear();
            for (cell, corners) in cells.iter().zip(samples.chunks_exact(4)) {
                match grid::bilinear(cell, corners) {
                    Ok(value) => write!(line, "{value} ").unwrap(),
                    Err(_) => line.push_str("- "),
                }
            }
            writeln!(out, "{}", line.trim_end()).unwrap();
        }
    }
}
