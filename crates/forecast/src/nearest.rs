//! Grids on which a place is served by the nearest node alone: how they are named, and how far a node serves.
//!
//! Owns: those rules, for the one who reads messages and for the one who reads series. Must not know: either.
//!
//! They are unstructured meshes ([`crate::mesh`]) and grids whose rows and columns are not parallels and meridians: latitude
//! and longitude each by itself find no place between their nodes, and rows of unequal length have no cells at all.

use crate::mesh::{self, is_mesh};
use crate::{Node, RunSlice};
use seaway::{LatLon, NauticalMiles};

/// What the identity of a grid begins with whose nodes lie in rows and columns other than parallels and meridians.
pub const NEAREST_PREFIX: &str = "nearest-";

/// The same where u and v of the messages follow the turned grid: what is kept of them are the true components.
pub const TURNED_PREFIX: &str = "nearest-turned-";

/// Nodes looked at for a place: the nearest and those about it, among which one over water is looked for.
pub const NODES_AROUND: usize = mesh::CELLS_AROUND;

/// A place farther than this many spacings of nodes from the nearest one is outside what is kept of a grid.
///
/// Within a square of four nodes no place is farther than 0.71 spacings from one of them, within four that lie 2.8 times as
/// far apart one way as the other 1.5.
const FARTHEST_SPACINGS: f64 = 1.5;
/// Nodes nearer than this are the place itself: GRIB2 gives places in millionths of a degree.
const SAME_PLACE: NauticalMiles = NauticalMiles(0.001);
/// A place on the rim sees all nodes on one side. The rim is no great circle: between two nodes 80 km apart it is seen to
/// bend by 0.4 degrees.
const BEND_OF_THE_RIM_DEG: f64 = 1.0;

impl RunSlice {
    /// Whether the nearest node alone serves a place, as on meshes and on grids that do not follow parallels and meridians.
    pub fn is_of_nearest_nodes(&self) -> bool {
        is_mesh(&self.grid) || self.grid.starts_with(NEAREST_PREFIX)
    }

    /// Whether u and v of the messages follow their grid: what is kept of them was turned to true north.
    pub fn has_turned_vectors(&self) -> bool {
        self.grid.starts_with(TURNED_PREFIX)
    }

    /// How wide the cells about a place are, given the nodes nearest to it, the nearest first ([`NODES_AROUND`] of them);
    /// none where the place lies outside the grid.
    pub fn width_of_cells(&self, place: LatLon, nearest: &[Node]) -> Option<NauticalMiles> {
        let at: Vec<LatLon> = nearest.iter().map(|node| node.at).collect();
        if is_mesh(&self.grid) {
            return mesh::cell_width(&at).filter(|_| mesh::is_within(place, &at));
        }
        let distance = place.distance(*at.first()?);
        let spacing = mesh::spacing(&at)?;
        let reached = distance.0 <= FARTHEST_SPACINGS * spacing.0;
        (reached && (distance.0 < SAME_PLACE.0 || is_surrounded(place, &at))).then_some(spacing)
    }
}

/// Whether a place has nodes on all sides: from none it would have to be guessed outwards.
fn is_surrounded(place: LatLon, nodes: &[LatLon]) -> bool {
    let mut seen: Vec<f64> = nodes.iter().map(|&node| bearing(place, node)).collect();
    seen.sort_by(f64::total_cmp);
    let (Some(&first), Some(&last)) = (seen.first(), seen.last()) else {
        return false;
    };
    let over_north = first + 360.0 - last;
    let widest = seen
        .windows(2)
        .map(|pair| pair[1] - pair[0])
        .fold(over_north, f64::max);
    widest <= 180.0 + BEND_OF_THE_RIM_DEG
}

/// The direction in which a great circle leaves for another place, degrees from -180 to 180.
fn bearing(from: LatLon, to: LatLon) -> f64 {
    let [lat, to_lat] = [from.lat.to_radians(), to.lat.to_radians()];
    let east = (to.lon - from.lon).to_radians();
    let x = to_lat.cos() * east.sin();
    let y = lat.cos() * to_lat.sin() - lat.sin() * to_lat.cos() * east.cos();
    x.atan2(y).to_degrees()
}
