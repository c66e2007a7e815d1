//! One packing's decoder: a message is put around the fuzzer's octets, so that each of them is one of section 5's template, a bitmap or section 7.
//!
//! The octets: columns less one, rows less one (6 bits each), a scanning mode whose last bit stands for a bitmap; the template of section 5
//! from octet 12 on; the bitmap, one bit a point, if there is one; all others are section 7's. seeds.py writes them so.

use crate::bounded::within;
use forecast::Sample;
use grid::{FieldHeader, Frame, Message};

/// Octets of each template, from octet 12 of section 5 on.
const TEMPLATES: [(u16, usize); 7] = [(0, 10), (2, 36), (3, 38), (4, 1), (40, 12), (41, 10), (42, 14)];
/// What reading a header and a choice of points may take besides the message's length: headers, errors in words.
const FEW: usize = 16 << 10;
/// What an image's decoder may take for at most 64 x 64 points: windows, tables, buffers.
const IMAGE: usize = 4 << 20;

/// Reads a message made of these octets, all of it and some points of it.
pub fn look(template: u16, octets: &[u8]) {
    let Some(octets) = message(template, octets) else {
        return;
    };
    let mut frames = grid::split(&octets);
    let Some(Frame::Message(message)) = frames.pop() else {
        panic!("the message is whole")
    };
    let Ok(headers) = grid::read_fields(&message) else {
        return;
    };
    let [header] = headers.as_slice() else {
        panic!("the message has one field")
    };
    compare(&message, header, template);
}

fn compare(message: &Message<'_>, header: &FieldHeader, template: u16) {
    let grid = header.grid.as_ref().expect("the grid is a regular one");
    let image = if matches!(template, 40 | 41) { IMAGE } else { 0 };
    let points = grid.points() as usize;
    // Positions, then values, for every point.
    let for_all = FEW + 2 * message.bytes.len() + 64 * points + image;
    let all = within(for_all, || grid::all_values(message, header));
    for every in [1, 2, 17] {
        let nodes: Vec<(u32, u32)> = (0..grid.rows)
            .flat_map(|row| (0..grid.columns).map(move |column| (column, row)))
            .skip(every / 2)
            .step_by(every)
            .collect();
        let for_some = FEW + 2 * message.bytes.len() + 128 * nodes.len() + image;
        let some = within(for_some, || grid::values_at(message, header, &nodes));
        // Octets after the last wanted value may be damaged, and are then seen by whoever wants all.
        let (Ok(all), Ok(some)) = (&all, &some) else {
            assert!(
                every > 1 || all.is_ok() == some.is_ok(),
                "all points are read in one way and not in the other: {all:?} {some:?}"
            );
            assert!(
                some.is_ok() || all.is_err(),
                "what can be read as a whole cannot be read in part: {some:?}"
            );
            continue;
        };
        let value = |node: &(u32, u32)| -> Sample {
            let at = grid
                .storage_index(node.0, node.1)
                .expect("the node is in the grid");
            all[at as usize]
        };
        for (node, found) in nodes.iter().zip(some) {
            assert_eq!(*found, value(node), "node {node:?}");
        }
    }
}

/// The message; none where the octets are too few.
fn message(template: u16, octets: &[u8]) -> Option<Vec<u8>> {
    let (&[columns, rows, scanning], octets) = octets.split_first_chunk::<3>()?;
    let (columns, rows) = (u32::from(columns % 64) + 1, u32::from(rows % 64) + 1);
    let points = columns * rows;
    let length = TEMPLATES.iter().find(|(known, _)| *known == template)?.1;
    let (of_template, octets) = octets.split_at_checked(length)?;
    let (bitmap, data) = match scanning & 1 {
        0 => (None, octets),
        _ => octets
            .split_at_checked(points.div_ceil(8) as usize)
            .map(|(bits, data)| (Some(bits), data))?,
    };
    let present = bitmap.map_or(points, |bits| ones(bits, points));
    let representation = [&present.to_be_bytes(), &template.to_be_bytes()[..], of_template].concat();
    let bitmap = bitmap.map_or(vec![255], |bits| [&[0], bits].concat());
    let mut body = section(1, &[0, 7, 0, 0, 2, 1, 1, 7, 0xd4, 5, 13, 0, 0, 0, 0, 1]);
    body.extend(section(3, &grid_section(columns, rows, scanning & 0xf0)));
    // Template 4.0: 10 m wind towards east, at the reference time.
    let product = [
        0, 0, 0, 0, 2, 2, 2, 0, 0, 0, 0, 0, 1, 0, 0, 0, 0, 103, 0, 0, 0, 0, 10, 255, 255, 255, 255, 255, 255,
    ];
    body.extend(section(4, &product));
    body.extend(section(5, &representation));
    body.extend(section(6, &bitmap));
    body.extend(section(7, data));
    let total = (16 + body.len() + 4) as u64;
    Some([b"GRIB\xff\xff\x00\x02", &total.to_be_bytes()[..], &body, b"7777"].concat())
}

/// Section 3 from octet 6 on, template 3.0: steps of one degree from the equator and meridian 0, whichever way it runs.
fn grid_section(columns: u32, rows: u32, scanning: u8) -> Vec<u8> {
    let (wide, high) = (1_000_000 * (columns - 1), 1_000_000 * (rows - 1));
    let (west, north) = (scanning & 0x80 != 0, scanning & 0x40 != 0);
    let (first_lon, last_lon) = if west { (wide, 0) } else { (0, wide) };
    let (first_lat, last_lat) = if north { (0, high) } else { (high, 0) };
    let mut octets = vec![0];
    octets.extend((columns * rows).to_be_bytes());
    octets.extend([0, 0, 0, 0, 6]);
    octets.extend([0; 15]);
    octets.extend(
        [columns, rows, 0, u32::MAX, first_lat, first_lon]
            .map(u32::to_be_bytes)
            .concat(),
    );
    octets.push(0x30);
    octets.extend(
        [last_lat, last_lon, 1_000_000, 1_000_000]
            .map(u32::to_be_bytes)
            .concat(),
    );
    octets.push(scanning);
    octets
}

fn section(number: u8, octets: &[u8]) -> Vec<u8> {
    [&(5 + octets.len() as u32).to_be_bytes(), &[number][..], octets].concat()
}

/// Ones among the first `points` bits.
fn ones(bits: &[u8], points: u32) -> u32 {
    (0..points as usize)
        .filter(|point| bits[point / 8] & (0x80 >> (point % 8)) != 0)
        .count() as u32
}
