//! What the tests of this crate share: finding the shared files, reading fields at places, comparing with a tolerance.

use forecast::{Gap, Sample};
use grid::{Damage, FieldHeader, Frame, Message};
use seaway::LatLon;
pub use shared_files::shared;

/// Messages of a file that has no damage.
pub fn messages(bytes: &[u8]) -> Vec<Message<'_>> {
    let whole = |frame| match frame {
        Frame::Message(message) => message,
        Frame::Damage(damage) => panic!("{damage}"),
    };
    grid::split(bytes).into_iter().map(whole).collect()
}

/// Nearest and bilinear value of a field at a place; [`Gap::OutsideGrid`] outside.
pub fn value_at(
    message: &Message<'_>,
    field: &FieldHeader,
    place: LatLon,
) -> Result<(Sample, Sample), Damage> {
    let grid = field.grid.as_ref();
    let Some((grid, node)) = grid.and_then(|grid| Some((grid, grid.nearest(place)?))) else {
        return Ok((Err(Gap::OutsideGrid), Err(Gap::OutsideGrid)));
    };
    let mut nodes = vec![(node.column, node.row)];
    // Where rows are of unequal length there are nearest nodes and no cells.
    let cell = grid.cell(place);
    let corners = cell.iter().flat_map(|cell| &cell.corners);
    nodes.extend(corners.map(|corner| (corner.column, corner.row)));
    let samples = grid::values_at(message, field, &nodes)?;
    let between = cell.map_or(Err(Gap::OutsideGrid), |cell| grid::bilinear(&cell, &samples[1..]));
    Ok((samples[0], between))
}

pub fn close(found: Sample, expected: f64, tolerance: f64) -> bool {
    // Half a unit in the last place of single precision, in which samples are kept, comes on top of the tolerance.
    found.is_ok_and(|found| (f64::from(found) - expected).abs() <= tolerance + expected.abs() * 6.0e-8)
}
