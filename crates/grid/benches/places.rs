//! One side of the benchmarks `tests/bench/grib_places.py` and `grib_fields.py`, which give it work and compare it with ecCodes.
//!
//! Reads lines `WAY FILE OFFSET LENGTH FIELD LAT,LON LAT,LON …` and answers each with the nanoseconds it took to read the
//! header, find the cells, unpack and interpolate, and the values (`-` where missing). Ways: `ours`; `lazy`, by the `grib` crate up to the last
//! wanted value; `full`, by the `grib` crate, all values. Without input it does nothing.

#![expect(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a benchmark may fail by panicking; its output is its work"
)]

use forecast::{Gap, Sample};
use grid::Message;
use seaway::LatLon;
use std::collections::HashMap;
use std::time::Instant;

fn values(way: &str, message: &Message<'_>, field: usize, places: &[LatLon]) -> Vec<Sample> {
    let header = &grid::read_fields(message).unwrap()[field - 1];
    let grid = header.grid.as_ref().unwrap();
    let cells: Vec<_> = places.iter().map(|&place| grid.cell(place)).collect();
    let corners = cells.iter().flatten().flat_map(|cell| &cell.corners);
    let nodes: Vec<_> = corners.map(|corner| (corner.column, corner.row)).collect();
    let samples = match way {
        "lazy" => grid::values_at_by_library(message, header, &nodes).unwrap(),
        "full" => {
            let all = grid::all_values_by_library(message, header).unwrap();
            let at = |&(column, row): &(u32, u32)| all[grid.storage_index(column, row).unwrap() as usize];
            nodes.iter().map(at).collect()
        }
        _ => grid::values_at(message, header, &nodes).unwrap(),
    };
    let mut samples = samples.chunks_exact(4);
    let between = |cell: &Option<grid::Cell>| match cell {
        Some(cell) => grid::bilinear(cell, samples.next().unwrap()),
        None => Err(Gap::OutsideGrid),
    };
    cells.iter().map(between).collect()
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
        let started = Instant::now();
        let samples = values(way, &message, field, &places);
        let took = started.elapsed().as_nanos();
        let words: Vec<_> = samples
            .iter()
            .map(|value| value.map_or("-".to_owned(), |value| value.to_string()))
            .collect();
        println!("{took} {}", words.join(" "));
    }
}
