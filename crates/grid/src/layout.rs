//! Section 3 as either of the two kinds that are read: a grid of columns and rows or an unstructured mesh.
//!
//! Owns: the choice by template. Must not know: how either is laid out.

use crate::sections::Section;
use crate::{Damage, GridDefinition, MeshDefinition};

/// Template of an unstructured mesh.
const MESH: u16 = 101;

/// How the points of a field are named and stored.
pub(crate) enum Layout {
    /// Columns and rows, by any template that is read.
    Grid(GridDefinition),
    /// Template 3.101.
    Mesh(MeshDefinition),
}

impl Layout {
    /// Reads section 3.
    ///
    /// # Errors
    /// Unsupported for any other template; otherwise what contradicts itself.
    pub fn read(section: &Section<'_>) -> Result<Self, Damage> {
        if section.u16(13)? == MESH && section.u8(6)? == 0 {
            MeshDefinition::read(section).map(Self::Mesh)
        } else {
            GridDefinition::read(section).map(Self::Grid)
        }
    }

    /// How many points there are.
    pub fn points(&self) -> u64 {
        match self {
            Self::Grid(grid) => grid.points(),
            Self::Mesh(mesh) => u64::from(mesh.cells),
        }
    }

    /// Where the value of a point stands among the stored values, from 0; none outside.
    pub fn storage_index(&self, column: u32, row: u32) -> Option<u64> {
        match self {
            Self::Grid(grid) => grid.storage_index(column, row),
            Self::Mesh(mesh) => mesh.storage_index(column, row),
        }
    }
}
