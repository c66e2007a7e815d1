//! Framing, sections, headers and grids of whatever octets there are, and a few values where there is a grid.

use crate::bounded::within;
use grid::{Frame, GridDefinition};
use seaway::LatLon;

/// What the code blocks around three nodes of a JPEG 2000 image may take, and the list of all that the largest image has which is read in bounds.
/// Images that are not need memory of their own: the targets of packings 5.40 and 5.41 look at their decoders, on grids of a bounded size.
const CODE_BLOCKS: usize = 8 << 20;

/// Reads what can be read of these octets.
pub fn look(octets: &[u8]) {
    let for_messages = (64 << 10) + 64 * octets.len();
    let frames = within(for_messages, || grid::split(octets));
    for frame in frames {
        let Frame::Message(message) = frame else { continue };
        let Ok(headers) = within(for_messages, || grid::read_fields(&message)) else {
            continue;
        };
        for header in headers.iter().take(8) {
            let Some(grid) = &header.grid else { continue };
            within(for_messages, || look_about(grid));
            if !grid::unpacks_in_bounds(&message, header) {
                continue;
            }
            let nodes = [
                (0, 0),
                (grid.columns / 2, grid.rows / 2),
                (grid.columns - 1, grid.rows - 1),
            ];
            // Its error says why there are none.
            let image = if header.packing_template == 40 {
                CODE_BLOCKS
            } else {
                0
            };
            let _ = within(for_messages + image, || grid::values_at(&message, header, &nodes));
        }
    }
}

/// Places to nodes: those found are in the grid and on the Earth.
fn look_about(grid: &GridDefinition) {
    for (lat, lon) in [(50.0, -4.0), (90.0, 0.0), (-90.0, 180.0), (0.0, 179.999_999_9)] {
        let place = LatLon::new(lat, lon).expect("a place on the Earth");
        let cell = grid.cell(place);
        let corners = cell.iter().flat_map(|cell| &cell.corners).copied();
        for node in corners
            .chain(grid.nearest(place))
            .chain(grid.nodes_around(place, 2))
        {
            assert!(
                grid.storage_index(node.column, node.row) < Some(grid.points()),
                "{node:?}"
            );
            assert!(LatLon::new(node.at.lat, node.at.lon).is_some(), "{node:?}");
        }
    }
}
