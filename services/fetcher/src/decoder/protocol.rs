//! What the two processes say to each other: frames of a length (four octets, big-endian) and a postcard document.

use bytes::Bytes;
use forecast::{Node, Sample};
use grid::{Damage, FieldHeader};
use seaway::LatLon;
use serde::{Deserialize, Serialize};
use std::io;
use std::time::Duration;

/// What a child may use. The first frame it is sent; it binds itself by it before it reads a message.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Limits {
    /// Octets of address space.
    pub memory_octets: u64,
    /// Wall time for one message, as the parent measures it.
    pub time: Duration,
    /// The longest answer the parent reads, in octets.
    pub answer_octets: u32,
}

impl Default for Limits {
    /// 512 MiB hold any field of a global grid of 0.1 degrees in any packing (6.5 million points at 36 octets while a
    /// JPEG 2000 stream is decoded, and the message); ten seconds are a hundred times what one takes.
    fn default() -> Self {
        Self {
            memory_octets: 512 << 20,
            time: Duration::from_secs(10),
            answer_octets: 16 << 20,
        }
    }
}

/// What is wanted of a message.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum Ask {
    /// The corners of each place's cell and `ring` rows and columns beyond them, each node once.
    Around {
        /// The places.
        places: Vec<LatLon>,
        /// Rows and columns beyond the four corners.
        ring: u32,
    },
    /// Nearest and interpolated values at each place.
    At {
        /// The places.
        places: Vec<LatLon>,
    },
    /// The cells of an unstructured mesh nearest to each place. The message holds the latitudes of its cells.
    NearestCells {
        /// Exactly one message, from `GRIB` to `7777`: the longitudes of the same cells.
        longitude: Bytes,
        /// The places.
        places: Vec<LatLon>,
        /// Cells for each place, the nearest included ([`forecast::mesh::CELLS_AROUND`]).
        around: usize,
    },
    /// The values of nodes found before, cells of a mesh above all.
    Nodes {
        /// The identity of the grid they were found on, as [`grid::FieldHeader::grid_hash`] gives it: no other is read.
        grid: String,
        /// The nodes.
        nodes: Vec<Node>,
    },
}

/// One message and what is wanted of it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct DecodeRequest {
    /// Exactly one message, from `GRIB` to `7777`.
    pub message: Bytes,
    /// Its number, for errors.
    pub number: u32,
    /// What is wanted.
    pub ask: Ask,
}

/// One field of a message.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct DecodedField {
    /// What the field is.
    pub header: FieldHeader,
    /// The identity of its grid, as [`grid::FieldHeader::grid_hash`] gives it; none for grids that are not read.
    pub grid: Option<String>,
    /// Its values, or why there are none. Offsets count from the start of the message.
    pub outcome: Result<DecodedValues, Damage>,
}

/// The values that were asked for.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum DecodedValues {
    /// To [`Ask::Around`]: the nodes inside the grid and a sample for each; places outside have none.
    /// To [`Ask::Nodes`]: the nodes as asked for.
    Around {
        /// The nodes, each once.
        nodes: Vec<Node>,
        /// One sample for each node.
        samples: Vec<Sample>,
    },
    /// To [`Ask::At`]: one for each place, in order.
    At(Vec<PlaceValue>),
    /// To [`Ask::NearestCells`]: for each place, in order, the cells nearest to it, the nearest first; none where it lies
    /// outside the mesh.
    NearestCells(Vec<Vec<Node>>),
}

/// A node and its value.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct NodeValue {
    /// The node.
    pub node: Node,
    /// Its value.
    pub sample: Sample,
}

/// The values at one place.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct PlaceValue {
    /// The place.
    pub at: LatLon,
    /// The nearest node; none outside the grid.
    pub nearest: Option<NodeValue>,
    /// The nearest node that has a value, where the nearest one has none: within two rows and columns of the place's cell.
    pub nearest_valid: Option<NodeValue>,
    /// Between the nodes; missing if one of those that weigh anything is.
    pub bilinear: Sample,
}

/// What the child answers: the fields of the message, or why it is no message.
pub(super) type Answer = Result<Vec<DecodedField>, Damage>;

/// A document as a frame: its length, then itself.
pub(super) fn frame<T: Serialize>(document: &T) -> io::Result<Vec<u8>> {
    let mut framed = postcard::to_extend(document, vec![0; 4]).map_err(io::Error::other)?;
    let length = u32::try_from(framed.len() - 4).map_err(io::Error::other)?;
    framed[..4].copy_from_slice(&length.to_be_bytes());
    Ok(framed)
}
