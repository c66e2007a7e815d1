//! GRIB2 bytes and places in, values out; the only crate that names `grib`.
//!
//! Owns: framing of a file into messages, sections and their checks, headers, grids of columns and rows (regular, turned,
//! Gaussian, reduced, Mercator, stereographic, Lambert), unstructured meshes and their nearest cells, packings.
//! Is given: the bytes of a file or a message, places. Must not know: feeds, files, processes, clubs, parameters of rules.
//!
//! Foreign bytes are hostile: every length and count is checked against the bytes at hand before anything is allocated
//! or handed to a decoder, and a decoder's panic becomes a [`Damage`]. What cannot be bounded here (the memory that the
//! `grib` crate takes for JPEG 2000 streams of rare kinds) is bounded by the process that runs this code.

mod axis;
mod by_position;
mod conic;
pub mod damage;
pub mod definition;
mod earth;
mod framing;
mod gaussian;
mod grid_octets;
mod header;
mod interpolation;
mod layout;
mod mercator;
pub mod mesh;
pub mod names;
mod nearest_cells;
mod packing;
mod png_packing;
mod product;
mod reduced;
mod rotated;
mod rows;
mod sections;
mod shape;
mod values;
mod wanted;
mod winds;

pub use damage::{Damage, Fault};
pub use definition::{GridDefinition, RegularAxes};
pub use framing::{Frame, Message, split};
pub use gaussian::gaussian_latitude;
pub use header::{FieldHeader, read_fields};
pub use interpolation::{Cell, bilinear};
pub use mesh::MeshDefinition;
pub use nearest_cells::{UnusableCoordinates, nearest_cells};
pub use values::{
    all_values, all_values_by_library, unpacks_in_bounds, values_at, values_of, values_of_by_library,
};
pub use wanted::WantedNodes;

/// The most grid points a message may have: 2^25, more than a global grid of 0.05 degrees has (26 million).
///
/// A count is the only thing that bounds the memory of a field packed with zero bits or compressed, so it is capped.
pub const MOST_POINTS: u64 = 1 << 25;
