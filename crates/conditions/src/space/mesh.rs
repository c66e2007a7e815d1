//! Where a place lies among the cells of an unstructured mesh.
//!
//! Owns: the nearest cell and the cells about it. Must not know: how far a cell serves, which `forecast::mesh` says for the
//! readers of messages and of series alike.

use super::Spot;
use forecast::mesh::{CELLS_AROUND, cell_width, is_within};
use forecast::{Gap, NodeSeries};
use seaway::{LatLon, NauticalMiles};

/// A water cell is looked for within this many cell widths: the cells that share a corner with the nearest one lie within
/// 1.76 widths of its centre, and the place within 0.88. Cells kept for another venue lie farther off.
const BLOCK_WIDTHS: f64 = 3.0;

/// Finds a place among cells: the nearest cell has all the weight, and outside the mesh none has any.
pub(super) fn locate(place: LatLon, nodes: &[NodeSeries]) -> Spot {
    let mut near: Vec<(usize, NauticalMiles)> = nodes
        .iter()
        .enumerate()
        .map(|(index, series)| (index, place.distance(series.node.at)))
        .collect();
    near.sort_by(|a, b| a.1.0.total_cmp(&b.1.0));
    near.truncate(CELLS_AROUND);
    let cells: Vec<LatLon> = near.iter().map(|&(index, _)| nodes[index].node.at).collect();
    let inside = cell_width(&cells).filter(|_| is_within(place, &cells));
    let (Some(width), Some(&(nearest, _))) = (inside, near.first()) else {
        return Spot {
            corners: Err(Gap::OutsideGrid),
            block: Vec::new(),
        };
    };
    near.retain(|(_, distance)| distance.0 <= BLOCK_WIDTHS * width.0);
    Spot {
        corners: Ok(vec![(nearest, 1.0)]),
        block: near,
    }
}
