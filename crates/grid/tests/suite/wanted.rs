//! Wanted nodes found once: read from every message of their grid, and from no other.
//!
//! Source: by definition of each check; values are whole numbers written in sixteen bits.

use crate::built::{Built, only_message};
use crate::built_grids::gaussian;
use forecast::Gap;
use grid::{Message, WantedNodes, gaussian_latitude};

fn three_by_two(corners: [i32; 4], stored: &[u16]) -> Built {
    Built::plain(3, 2, corners, [1_000_000; 2], 0, stored)
}

const NORTH: [i32; 4] = [51_000_000, 0, 50_000_000, 2_000_000];

/// Values of the first field of a message at nodes that were found on another.
fn read(message: &Message<'_>, wanted: &WantedNodes) -> Result<Vec<Result<f32, Gap>>, String> {
    let header = &grid::read_fields(message).unwrap()[0];
    grid::values_of(message, header, wanted).map_err(|damage| damage.to_string())
}

#[test]
fn nodes_found_once_are_read_from_every_message_of_their_grid_and_from_no_other() {
    let first = three_by_two(NORTH, &[10, 11, 12, 13, 14, 15]).octets();
    let message = only_message(&first).unwrap();
    let header = &grid::read_fields(&message).unwrap()[0];
    // Backwards, one of them twice, one beyond the last column, one beyond the last row.
    let nodes = [(2, 1), (0, 0), (3, 0), (2, 1), (1, 0), (0, 2)];
    let wanted = WantedNodes::new(&message, header, &nodes).unwrap();
    let outside = Err(Gap::OutsideGrid);
    let expected = [Ok(15.0), Ok(10.0), outside, Ok(15.0), Ok(11.0), outside];
    assert_eq!(read(&message, &wanted).unwrap(), expected);
    assert_eq!(grid::values_at(&message, header, &nodes).unwrap(), expected);

    // Of the same grid, and the node that is asked for twice has no value.
    let mut masked = three_by_two(NORTH, &[20, 21, 22, 23, 24]);
    masked.fields[0].bitmap = vec![0, 0b1111_1000];
    let masked = masked.octets();
    let expected = [
        Err(Gap::Masked),
        Ok(20.0),
        outside,
        Err(Gap::Masked),
        Ok(21.0),
        outside,
    ];
    assert_eq!(read(&only_message(&masked).unwrap(), &wanted).unwrap(), expected);

    // As many points, elsewhere: the same positions would give values of other places.
    let south = [-50_000_000, 0, -51_000_000, 2_000_000];
    let elsewhere = three_by_two(south, &[30, 31, 32, 33, 34, 35]).octets();
    let words = read(&only_message(&elsewhere).unwrap(), &wanted).unwrap_err();
    assert!(words.contains("found on another grid"), "{words}");
}

// Parallels that were found for one grid are kept for the next of as many, and for no other.
#[test]
fn gaussian_parallels_are_those_of_the_grid_that_is_asked() {
    for parallels in [3, 5, 5, 3, 4] {
        let grid = gaussian(parallels, 8, &[]).grid().unwrap();
        for row in 0..2 * parallels {
            assert_eq!(grid.node_at(0, row).at.lat, gaussian_latitude(parallels, row));
        }
    }
}
