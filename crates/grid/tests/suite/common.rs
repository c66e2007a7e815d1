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
    let cell_and_node = field
        .grid
        .as_ref()
        .and_then(|grid| Some((grid.cell(place)?, grid.nearest(place)?)));
    let Some((cell, node)) = cell_and_node else {
        return Ok((Err(Gap::OutsideGrid), Err(Gap::OutsideGrid)));
    };
    let mut nodes: Vec<_> = cell
        .corners
        .iter()
        .map(|corner| (corner.column, corner.row))
        .collect();
    nodes.push((node.column, node.row));
    let samples = grid::values_at(message, field, &nodes)?;
    Ok((samples[4], grid::bilinear(&cell, &samples[..4])))
}

pub fn close(found: Sample, expected: f64, tolerance: f64) -> bool {
    // Half a unit in the last place of single precision, in which samples are kept, comes on top of the tolerance.
    found.is_ok_and(|found| (f64::from(found) - expected).abs() <= tolerance + expected.abs() * 6.0e-8)
}
