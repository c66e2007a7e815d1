//! Section 3 of an unstructured mesh: which mesh the cells of a message belong to, and how many there are.
//!
//! Owns: template 3.101. Must not know: where cells lie, which no message of values says. Fields of the same mesh hold the
//! coordinates, cell by cell; only the UUID tells that they are of the same mesh, for another one may have as many cells.

use crate::sections::Section;
use crate::{Damage, Fault, MOST_POINTS};
use forecast::Node;
use forecast::mesh::MESH_PREFIX;
use seaway::LatLon;
use serde::{Deserialize, Serialize};

/// Discipline, category and number of the latitudes of a mesh's cells, degrees north (code table 4.2).
pub const LATITUDE_CODES: [u8; 3] = [0, 191, 1];
/// Discipline, category and number of the longitudes of a mesh's cells, degrees east (code table 4.2).
pub const LONGITUDE_CODES: [u8; 3] = [0, 191, 2];

/// An unstructured mesh, or rather one of the grids it is made of.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct MeshDefinition {
    /// Number of grid used, as the producer counts them.
    pub number: u32,
    /// Number of grid in reference: whether values are of cells, corners or sides, as the producer counts them.
    pub reference: u8,
    /// UUID of the horizontal grid: the mesh's identity.
    pub uuid: [u8; 16],
    /// How many cells it has.
    pub cells: u32,
}

impl MeshDefinition {
    /// Reads section 3 of template 3.101.
    ///
    /// # Errors
    /// Unsupported where the mesh cannot be told from another; otherwise what contradicts itself.
    pub(crate) fn read(section: &Section<'_>) -> Result<Self, Damage> {
        let (cells, number, reference) = (section.u32(7)?, section.u32(15)? & 0x00ff_ffff, section.u8(19)?);
        let uuid = section.octets(20)?;
        if section.u8(11)? != 0 {
            return Err(section.damage(Fault::UnsupportedFeature(
                "template 3.101 with a list of numbers".to_owned(),
            )));
        }
        if uuid == [0; 16] || uuid == [u8::MAX; 16] {
            return Err(section.damage(Fault::UnsupportedFeature(
                "template 3.101 without the mesh's UUID".to_owned(),
            )));
        }
        if cells == 0 || u64::from(cells) > MOST_POINTS {
            let words = format!("implausible mesh of {cells} cells (at most {MOST_POINTS} are read)");
            return Err(section.contradiction(words));
        }
        Ok(Self {
            number,
            reference,
            uuid,
            cells,
        })
    }

    /// The UUID in lower-case hexadecimal digits.
    pub fn uuid_digits(&self) -> String {
        self.uuid.iter().map(|octet| format!("{octet:02x}")).collect()
    }

    /// The mesh's identity: `mesh-`, UUID, number of grid, number in reference and count of cells, so that fields of
    /// corners do not fit cells, nor fields of another mesh.
    pub fn hash(&self) -> String {
        format!(
            "{MESH_PREFIX}{}-{}-{}-{}",
            self.uuid_digits(),
            self.number,
            self.reference,
            self.cells
        )
    }

    /// Where the value of a cell stands among the stored values; none for what is no cell.
    pub(crate) fn storage_index(&self, column: u32, row: u32) -> Option<u64> {
        (column < self.cells && row == 0).then_some(u64::from(column))
    }
}

/// The node of a cell: its number is the column, the row is 0.
pub(crate) fn cell_node(number: u32, at: LatLon) -> Node {
    Node {
        column: number,
        row: 0,
        at,
    }
}
