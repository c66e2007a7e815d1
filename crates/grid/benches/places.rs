//! One side of the benchmarks `tests/bench/grib_places.py` and `grib_fields.py`, which give it work and compare it with ecCodes.
//!
//! Reads lines `WAY FILE OFFSET LENGTH FIELD LAT,LON LAT,LON …` and answers each with the nanoseconds it took to read the header, unpack
//! and interpolate, and the values (`-` where missing). Ways: `known`, the places' cells found beforehand; `anew`, found while the clock
//! runs; and with known cells `lazy`, by the `grib` crate up to the last wanted value, and `full`, by the `grib` crate, all values.
//! Without input it does nothing.

#![expect(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a benchmark may fail by panicking; its output is its work"
)]

use forecast::{Gap, Sample};
use grid::{Cell, FieldHeader, Message, WantedNodes};
use seaway::LatLon;
use std::collections::HashMap;
use std::time::Instant;

/// The cells of places, and their corners as they are read.
struct Found {
    cells: Vec<Option<Cell>>,
    wanted: WantedNodes,
    /// Where each corner stands among all values.
    stored: Vec<usize>,
}

fn header_of(message: &Message<'_>, field: usize) -> FieldHeader {
    grid::read_fields(message).unwrap().swap_remove(field - 1)
}

fn find(message: &Message<'_>, header: &FieldHeader, places: &[LatLon], way: &str) -> Found {
    let grid = header.grid.as_ref().unwrap();
    let cells: Vec<_> = places.iter().map(|&place| grid.cell(place)).collect();
    let corners = cells.iter().flatten().flat_map(|cell| &cell.corners);
    let nodes: Vec<_> = corners.map(|corner| (corner.column, corner.row)).collect();
    let stored = |&(column, row): &(u32, u32)| grid.storage_index(column, row).unwrap() as usize;
    Found {
        cells,
        wanted: WantedNodes::new(message, header, &nodes).unwrap(),
        stored: match way {
            "full" => nodes.iter().map(stored).collect(),
            _ => Vec::new(),
        },
    }
}

fn values(way: &str, message: &Message<'_>, header: &FieldHeader, found: &Found) -> Vec<Sample> {
    let samples = match way {
        "lazy" => grid::values_of_by_library(message, header, &found.wanted).unwrap(),
        "full" => {
            let all = grid::all_values_by_library(message, header).unwrap();
            found.stored.iter().map(|&at| all[at]).collect()
        }
        _ => grid::values_of(message, header, &found.wanted).unwrap(),
    };
    let mut samples = samples.chunks_exact(4);
    let between = |cell: &Option<Cell>| match cell {
        Some(cell) => grid::bilinear(cell, samples.next().unwrap()),
        None => Err(Gap::OutsideGrid),
    };
    found.cells.iter().map(between).collect()
}

/// The values, and the nanoseconds they took.
fn timed(way: &str, message: &Message<'_>, field: usize, places: &[LatLon]) -> (Vec<Sample>, u128) {
    let known = (way != "anew").then(|| find(message, &header_of(message, field), places, way));
    let started = Instant::now();
    let header = header_of(message, field);
    let found = known.unwrap_or_else(|| find(message, &header, places, way));
    let samples = values(way, message, &header, &found);
    (samples, started.elapsed().as_nanos())
}

fn place(text: &str) -> LatLon {
    let (lat, lon) = text.split_once(',').unwrap();
    LatLon::new(lat.parse().unwrap(), lon.parse().unwrap()).unwrap()
}

fn main() {
    let mut files = HashMap::<String, Vec<u8>>::new();
    for line in std::io::stdin().lines() {
        let line = line.unwrap();
        let mut words = line.split('\t');
        let way = words.next().unwrap();
        let name = words.next().unwrap().to_owned();
        let mut number = || words.next().unwrap().parse::<usize>().unwrap();
        let (offset, length, field) = (number(), number(), number());
        let places: Vec<LatLon> = words.map(place).collect();
        let bytes = files
            .entry(name.clone())
            .or_insert_with(|| std::fs::read(&name).unwrap());
        let message = Message {
            number: 1,
            offset: 0,
            bytes: &bytes[offset..offset + length],
        };
        let (samples, took) = timed(way, &message, field, &places);
        let words: Vec<_> = samples
            .iter()
            .map(|value| value.map_or("-".to_owned(), |value| value.to_string()))
            .collect();
        println!("{took} {}", words.join(" "));
    }
}
