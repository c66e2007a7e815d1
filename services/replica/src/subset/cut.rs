//! One field cut to a box: the values of the nodes inside, packed anew.
//!
//! Owns: which nodes are inside, section 3 of the box (template 3.0). Sections 1, 2 and 4 are the producer's own octets.

use super::question::Region;
use crate::message::{END_MARKER, sections};
use crate::simple_packing::{BITS, pack};
use forecast::Gap;
use grid::{Frame, GridDefinition, Message, RegularAxes};

/// A node nearer to a bound than this, in degrees, is on it.
const SLACK: f64 = 1.0e-6;

/// The message that holds one field of a message, cut to a region; empty where no node lies inside.
///
/// # Errors
/// What of the message cannot be read or cut.
pub(super) fn cut(octets: &[u8], field: usize, region: Region) -> Result<Vec<u8>, String> {
    let message = whole_message(octets)?;
    let fields = grid::read_fields(&message).map_err(|damage| damage.to_string())?;
    let header = fields.get(field - 1).ok_or("no such field in the message")?;
    let grid = header.grid.as_ref().ok_or("no grid")?;
    let axes = grid.regular().ok_or("no regular grid")?;
    let (columns, rows) = (
        columns_inside(&axes, grid.columns, region),
        rows_inside(&axes, grid.rows, region),
    );
    if columns.is_empty() || rows.is_empty() {
        return Ok(Vec::new());
    }
    let of_row = |&row: &u32| columns.iter().map(move |&column| (column, row));
    let nodes: Vec<(u32, u32)> = rows.iter().flat_map(of_row).collect();
    let samples = grid::values_at(&message, header, &nodes).map_err(|damage| damage.to_string())?;
    let mut values = Vec::with_capacity(samples.len());
    for sample in samples {
        values.push(match sample {
            Ok(value) => Some(value),
            Err(Gap::Masked) => None,
            Err(gap) => return Err(format!("{gap:?}")),
        });
    }
    put_together(octets, field, grid, (&columns, &rows), &values).ok_or_else(|| "no such sections".to_owned())
}

fn whole_message(octets: &[u8]) -> Result<Message<'_>, String> {
    match grid::split(octets).as_slice() {
        [Frame::Message(message)] => Ok(*message),
        [Frame::Damage(damage), ..] => Err(damage.to_string()),
        _ => Err("more than one message".to_owned()),
    }
}

/// Columns inside, in the direction the grid scans, beginning at the box's edge even where the grid begins inside it.
fn columns_inside(axes: &RegularAxes, count: u32, region: Region) -> Vec<u32> {
    let width = (region.east - region.west).clamp(0.0, 360.0);
    let eastward = |column: u32| {
        let lon = axes.first_lon + f64::from(column) * axes.column_step;
        (lon - region.west + SLACK).rem_euclid(360.0)
    };
    let distances = (0..count).map(|column| (eastward(column), column));
    let mut inside: Vec<(f64, u32)> = distances
        .filter(|(east, _)| *east <= width + 2.0 * SLACK)
        .collect();
    inside.sort_by(|one, other| one.0.total_cmp(&other.0));
    if axes.column_step < 0.0 {
        inside.reverse();
    }
    inside.into_iter().map(|(_, column)| column).collect()
}

fn rows_inside(axes: &RegularAxes, count: u32, region: Region) -> Vec<u32> {
    let lat = |row: u32| axes.first_lat + f64::from(row) * axes.row_step;
    let bounds = region.south - SLACK..=region.north + SLACK;
    (0..count).filter(|&row| bounds.contains(&lat(row))).collect()
}

fn put_together(
    octets: &[u8],
    field: usize,
    grid: &GridDefinition,
    nodes: (&[u32], &[u32]),
    values: &[Option<f32>],
) -> Option<Vec<u8>> {
    // The latest section of each number before the field's data.
    let mut latest: [&[u8]; 8] = [&[]; 8];
    let mut fields = 0;
    for (number, place) in sections(octets) {
        fields += usize::from(number == 7);
        *latest.get_mut(usize::from(number))? = &octets[place];
        if fields == field {
            break;
        }
    }
    let mut cut = octets.get(..16)?.to_vec();
    cut.extend_from_slice(latest[1]);
    cut.extend_from_slice(latest[2]);
    cut.extend(section_3(latest[3], grid, nodes)?);
    cut.extend_from_slice(latest[4]);
    cut.extend(pack(values, BITS));
    cut.extend_from_slice(END_MARKER);
    let length = cut.len() as u64;
    cut[8..16].copy_from_slice(&length.to_be_bytes());
    Some(cut)
}

/// Section 3 with the counts and corners of the box; rows lie one after another, in the grid's scanning directions.
fn section_3(octets: &[u8], grid: &GridDefinition, (columns, rows): (&[u32], &[u32])) -> Option<Vec<u8>> {
    let mut section = octets.to_vec();
    let basic_angle = section.get(38..42)?;
    if section.len() < 72 || !matches!(basic_angle, [0, 0, 0, 0] | [0xff, 0xff, 0xff, 0xff]) {
        return None;
    }
    let mut put =
        |octet: usize, number: u32| section[octet - 1..octet + 3].copy_from_slice(&number.to_be_bytes());
    let (across, down) = (columns.len() as u32, rows.len() as u32);
    put(7, across * down);
    put(31, across);
    put(35, down);
    let axes = grid.regular()?;
    let lat = |row: u32| millionths(axes.first_lat + f64::from(row) * axes.row_step);
    let lon = |column: u32| {
        let east = axes.first_lon + f64::from(column) * axes.column_step;
        millionths(east.rem_euclid(360.0)) % 360_000_000
    };
    put(47, lat(*rows.first()?));
    put(51, lon(*columns.first()?));
    put(56, lat(*rows.last()?));
    put(60, lon(*columns.last()?));
    section[71] = grid.scanning & 0xc0;
    Some(section)
}

/// Degrees as four octets whose first bit is the sign (regulation 92.1.5).
fn millionths(degrees: f64) -> u32 {
    let stored = (degrees * 1.0e6).round();
    (stored.abs() as u32) | if stored < 0.0 { 0x8000_0000 } else { 0 }
}
