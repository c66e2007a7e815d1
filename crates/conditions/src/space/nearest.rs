//! Where a place lies among nodes of which the nearest one alone serves it: cells of an unstructured mesh, nodes of a grid
//! that does not follow parallels and meridians.
//!
//! Owns: the nearest node and the nodes about it. Must not know: how far a node serves, which `forecast::nearest` says for
//! the readers of messages and of series alike.

use super::Spot;
use forecast::nearest::NODES_AROUND;
use forecast::{Gap, Node, RunSlice};
use seaway::{LatLon, NauticalMiles};

/// A water node is looked for within this many cell widths: the cells of a mesh that share a corner with the nearest one lie
/// within 1.76 widths of its centre, and the place within 0.88; nodes of a grid two rows off lie nearer. Nodes kept for
/// another venue lie farther off.
const BLOCK_WIDTHS: f64 = 3.0;

/// Finds a place among nodes: the nearest one has all the weight, and outside the grid none has any.
pub(super) fn locate(place: LatLon, slice: &RunSlice) -> Spot {
    let at = |index: usize| slice.nodes[index].node.at;
    let mut near: Vec<(usize, NauticalMiles)> = (0..slice.nodes.len())
        .map(|index| (index, place.distance(at(index))))
        .collect();
    near.sort_by(|a, b| a.1.0.total_cmp(&b.1.0));
    near.truncate(NODES_AROUND);
    let nodes: Vec<Node> = near.iter().map(|&(index, _)| slice.nodes[index].node).collect();
    let (Some(width), Some(&(nearest, _))) = (slice.width_of_cells(place, &nodes), near.first()) else {
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
