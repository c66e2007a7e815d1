//! Which cells of an unstructured mesh lie nearest to some places.
//!
//! Owns: the scan of a mesh's coordinates. Must not know: where the coordinates were read, and who keeps what is found.
//!
//! A mesh is scanned once for all places; what is found holds as long as the mesh is the same, which its UUID tells.

use crate::mesh::cell_node;
use forecast::mesh::{CELLS_AROUND, is_within};
use forecast::{Node, Sample};
use seaway::LatLon;
use std::collections::BinaryHeap;

/// Why the coordinates of a mesh tell no place.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum UnusableCoordinates {
    /// They are not of one mesh.
    #[error("{latitudes} latitudes and {longitudes} longitudes are not of the same cells")]
    Count {
        /// Cells with a latitude.
        latitudes: usize,
        /// Cells with a longitude.
        longitudes: usize,
    },
    /// Nearly all are missing or no degrees.
    #[error("of {cells} cells only {usable} have a latitude and a longitude in degrees; three are needed")]
    TooFew {
        /// Cells of the mesh.
        cells: usize,
        /// Those that have a place.
        usable: usize,
    },
}

/// For each place the nearest cell and the next ones, the nearest first, `around` in all; none where the place lies
/// outside the mesh: more than 1.5 cell widths ([`forecast::mesh::cell_width`]) from the nearest cell.
///
/// Latitudes and longitudes are in degrees, cell by cell in the order they are stored. A cell whose coordinates are
/// missing, no numbers or out of range is passed over. Of two cells equally near the one with the lower number is first.
///
/// # Errors
/// The two do not fit each other, or fewer than three cells are usable.
pub fn nearest_cells(
    latitudes: &[Sample],
    longitudes: &[Sample],
    places: &[LatLon],
    around: usize,
) -> Result<Vec<Vec<Node>>, UnusableCoordinates> {
    if latitudes.len() != longitudes.len() {
        return Err(UnusableCoordinates::Count {
            latitudes: latitudes.len(),
            longitudes: longitudes.len(),
        });
    }
    // The width is measured over as many cells however many are asked for.
    let kept = around.max(CELLS_AROUND);
    let mut scans: Vec<Scan> = places.iter().map(|&place| Scan::new(place)).collect();
    let mut usable = 0;
    for (number, (&latitude, &longitude)) in latitudes.iter().zip(longitudes).enumerate() {
        let Some(at) = centre(latitude, longitude) else {
            continue;
        };
        usable += 1;
        let direction = unit_vector(at);
        for scan in &mut scans {
            scan.offer(number as u32, direction, kept);
        }
    }
    if usable < 3 {
        let cells = latitudes.len();
        return Err(UnusableCoordinates::TooFew { cells, usable });
    }
    let found = scans.into_iter().map(|scan| {
        let cells = scan.nearest_first(latitudes, longitudes);
        cells_of_place(cells, around)
    });
    Ok(found.collect())
}

/// Cells of a scan with the place it was for.
struct Found {
    place: LatLon,
    nodes: Vec<Node>,
}

fn cells_of_place(found: Found, around: usize) -> Vec<Node> {
    let mut nodes = found.nodes;
    let nearest: Vec<LatLon> = nodes.iter().take(CELLS_AROUND).map(|node| node.at).collect();
    if !is_within(found.place, &nearest) {
        return Vec::new();
    }
    nodes.truncate(around);
    nodes
}

/// Where a cell lies; none where its coordinates are none.
fn centre(latitude: Sample, longitude: Sample) -> Option<LatLon> {
    LatLon::new(f64::from(latitude.ok()?), f64::from(longitude.ok()?))
}

fn unit_vector(at: LatLon) -> [f64; 3] {
    let (lat, lon) = (at.lat.to_radians(), at.lon.to_radians());
    [lat.cos() * lon.cos(), lat.cos() * lon.sin(), lat.sin()]
}

/// The nearest cells to one place so far.
struct Scan {
    place: LatLon,
    direction: [f64; 3],
    /// The farthest of them on top.
    nearest: BinaryHeap<Candidate>,
}

impl Scan {
    fn new(place: LatLon) -> Self {
        Self {
            place,
            direction: unit_vector(place),
            nearest: BinaryHeap::new(),
        }
    }

    fn offer(&mut self, number: u32, direction: [f64; 3], kept: usize) {
        let squared_chord = squared_chord(self.direction, direction);
        let candidate = Candidate {
            squared_chord,
            number,
        };
        if self.nearest.len() < kept {
            self.nearest.push(candidate);
        } else if let Some(mut farthest) = self.nearest.peek_mut()
            && candidate < *farthest
        {
            *farthest = candidate;
        }
    }

    fn nearest_first(self, latitudes: &[Sample], longitudes: &[Sample]) -> Found {
        let node = |candidate: Candidate| {
            let index = candidate.number as usize;
            let at = centre(latitudes[index], longitudes[index])?;
            Some(cell_node(candidate.number, at))
        };
        let in_order = self.nearest.into_sorted_vec();
        Found {
            place: self.place,
            nodes: in_order.into_iter().filter_map(node).collect(),
        }
    }
}

/// Grows with the great-circle distance, and unlike the dot product keeps its digits where cells lie metres apart.
fn squared_chord(a: [f64; 3], b: [f64; 3]) -> f64 {
    let [x, y, z] = [a[0] - b[0], a[1] - b[1], a[2] - b[2]];
    x * x + y * y + z * z
}

/// A cell and how far it is, ordered by distance, then by number.
#[derive(Clone, Copy, Debug)]
struct Candidate {
    squared_chord: f64,
    number: u32,
}

impl Ord for Candidate {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        let by_distance = self.squared_chord.total_cmp(&other.squared_chord);
        by_distance.then(self.number.cmp(&other.number))
    }
}

impl PartialOrd for Candidate {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

impl PartialEq for Candidate {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other).is_eq()
    }
}

impl Eq for Candidate {}
