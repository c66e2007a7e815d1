//! What holds of unstructured meshes wherever their cells are met: how a mesh is named, how wide its cells are, how far
//! a cell serves.
//!
//! Owns: those three rules, for the one who reads messages and for the one who reads series. Must not know: either.
//!
//! A cell is a [`crate::Node`] in row 0 whose column is its number in the order of storage, from 0.

use seaway::{LatLon, NauticalMiles};

/// What the identity of every mesh begins with; that of a regular grid is hexadecimal and never does.
pub const MESH_PREFIX: &str = "mesh-";

/// Cells kept for a place: the nearest and the twelve triangles that share a corner with it, among which a cell over
/// water is looked for.
pub const CELLS_AROUND: usize = 13;

/// A place farther than this many cell widths from the nearest cell's centre is outside the mesh.
///
/// Within a triangle of equal sides no place is farther than 0.88 widths from the centre; what is over leaves room for
/// uneven triangles at the rim.
const FARTHEST_WIDTHS: f64 = 1.5;

/// Edge of the square that has the area of a cell, for a spacing of 1 between the centres of triangles that share a side.
///
/// The centres of triangles of equal sides a lie a / sqrt 3 apart, and their area is a^2 sqrt 3 / 4.
const WIDTH_OF_SPACING: f64 = 1.139_753_528_477_4;

/// Whether the identity of a grid is that of a mesh.
pub fn is_mesh(grid: &str) -> bool {
    grid.starts_with(MESH_PREFIX)
}

/// The cell width of a mesh where these cells lie: the edge of a square of a cell's area, as producers state it.
///
/// The messages say nothing of sides and corners, so it is measured from the spacing of the centres: even at the rim nearly
/// every triangle shares a side with two others. None for fewer than three cells.
pub fn cell_width(cells: &[LatLon]) -> Option<NauticalMiles> {
    spacing(cells).map(|spacing| NauticalMiles(spacing.0 * WIDTH_OF_SPACING))
}

/// How far these nodes lie from each other: of each the distance to its second nearest neighbour, and of these the median,
/// so that a few odd ones do not change it. None for fewer than three nodes.
pub(crate) fn spacing(nodes: &[LatLon]) -> Option<NauticalMiles> {
    let second_nearest = |(index, &node): (usize, &LatLon)| {
        let others = nodes.iter().enumerate().filter(move |(other, _)| *other != index);
        let mut distances: Vec<f64> = others.map(|(_, &other)| node.distance(other).0).collect();
        (distances.len() >= 2).then(|| *distances.select_nth_unstable_by(1, f64::total_cmp).1)
    };
    let mut spacings: Vec<f64> = nodes.iter().enumerate().filter_map(second_nearest).collect();
    let middle = spacings.len().checked_sub(1)? / 2;
    let (_, median, _) = spacings.select_nth_unstable_by(middle, f64::total_cmp);
    Some(NauticalMiles(*median))
}

/// Whether a place lies within the mesh, given the cells nearest to it, the nearest first ([`CELLS_AROUND`] of them).
pub fn is_within(place: LatLon, nearest: &[LatLon]) -> bool {
    let reach = cell_width(nearest).map(|width| width.0 * FARTHEST_WIDTHS);
    let distance = nearest.first().map(|cell| place.distance(*cell).0);
    reach
        .zip(distance)
        .is_some_and(|(reach, distance)| distance <= reach)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Centres of triangles with sides of 0.1 degrees about 0 N 0 E, where degrees are square: `rows` strips of `across`.
    fn lattice(rows: i32, across: i32) -> Vec<LatLon> {
        let (side, height) = (0.1, 0.1 * 3_f64.sqrt() / 2.0);
        let strip = |row: i32| {
            (0..across).map(move |index| {
                let points_up = (row + index) % 2 == 0;
                let above_base = if points_up {
                    height / 3.0
                } else {
                    2.0 * height / 3.0
                };
                let lat = f64::from(row) * height + above_base;
                LatLon {
                    lat,
                    lon: f64::from(index) * side / 2.0,
                }
            })
        };
        (0..rows).flat_map(strip).collect()
    }

    fn nearest_to(place: LatLon, mut cells: Vec<LatLon>) -> Vec<LatLon> {
        cells.sort_by(|a, b| place.distance(*a).0.total_cmp(&place.distance(*b).0));
        cells.truncate(CELLS_AROUND);
        cells
    }

    /// A degree is 60.04 nautical miles on the mean sphere; a triangle with sides of 0.1 degrees has an area of
    /// 0.1^2 sqrt 3 / 4 square degrees, whose root is 0.0658 degrees: 3.951 nautical miles.
    #[test]
    fn the_width_is_the_root_of_the_area_inside_and_at_the_rim() {
        for (lat, lon) in [(0.4, 0.4), (0.0, 0.4), (0.0, 0.0), (0.4, 0.0), (-0.05, -0.05)] {
            let cells = nearest_to(LatLon { lat, lon }, lattice(9, 18));
            let width = cell_width(&cells).unwrap().0;
            assert!((width - 3.951).abs() < 0.02, "{width} at {lat} {lon}");
        }
    }

    /// The southernmost centres lie a third of a triangle's height north of the equator (0.0289 degrees); 1.5 widths are
    /// 0.0987 degrees.
    #[test]
    fn one_and_a_half_widths_are_the_limit() {
        let holds = |lat: f64| {
            let place = LatLon { lat, lon: 0.4 };
            is_within(place, &nearest_to(place, lattice(9, 18)))
        };
        let limit = 0.0289 - 0.0987;
        assert!(holds(limit + 0.001) && !holds(limit - 0.001));
    }

    #[test]
    fn too_few_cells_have_no_width_and_hold_no_place() {
        let cells = lattice(1, 2);
        assert_eq!(cell_width(&cells), None);
        assert!(!is_within(cells[0], &cells) && !is_within(cells[0], &[]));
    }

    #[test]
    fn names_tell_meshes_from_grids() {
        assert!(is_mesh("mesh-f5e69620b1a173c1f18995343c915789-1-0-1152") && !is_mesh("0123456789abcdef"));
    }
}
