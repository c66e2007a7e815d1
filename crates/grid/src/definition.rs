//! Section 3: where the points of a grid lie and in which order they are stored.
//!
//! Owns: the grid templates that are read (3.0, 3.1, 3.10, 3.20, 3.30, 3.40) and every scanning mode of flag table 3.4 but
//! staggered rows. Must not know: values, nor how a template lays out its nodes, which [`crate::shape`] does.
//!
//! A node is named by its column and row, counted from the grid's first point in the message's own scanning directions:
//! column 0 is the meridian of the first point (the easternmost one when columns run west), row 0 its parallel.
//! The name says nothing of the order of storage, which [`GridDefinition::storage_index`] alone knows.

use crate::conic::ConicGrid;
use crate::grid_octets::{
    self, ALTERNATING, COLUMN_BY_COLUMN, VECTORS_FOLLOW_GRID, scanning_mode, unsupported,
};
use crate::reduced::ReducedGrid;
use crate::rows::Rows;
use crate::sections::Section;
use crate::shape::Shape;
use crate::{Damage, Fault};
use forecast::Node;
use forecast::nearest::{NEAREST_PREFIX, TURNED_PREFIX};
use serde::{Deserialize, Serialize};

/// A grid of columns and rows.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct GridDefinition {
    /// Section 3 as it stands in the message: the grid's identity.
    octets: Vec<u8>,
    /// Ni: nodes along a row; of rows of unequal length, along the longest.
    pub columns: u32,
    /// Nj: how many rows there are.
    pub rows: u32,
    /// Scanning mode (flag table 3.4).
    pub scanning: u8,
    /// Whether the column after the last one is the first one again.
    pub wraps: bool,
    /// Flag table 3.3, bit 5.
    vectors_follow_grid: bool,
    pub(crate) shape: Shape,
}

/// The axes of a regular latitude-longitude grid (template 3.0), degrees.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RegularAxes {
    /// Latitude of the first point, degrees north.
    pub first_lat: f64,
    /// Longitude of the first point, degrees east, as the message writes it.
    pub first_lon: f64,
    /// From one row to the next, degrees north; negative when rows run south.
    pub row_step: f64,
    /// From one column to the next, degrees east; negative when columns run west.
    pub column_step: f64,
}

impl GridDefinition {
    /// Reads section 3.
    ///
    /// # Errors
    /// Unsupported for any other template, and for staggered grids; otherwise what contradicts itself.
    pub(crate) fn read(section: &Section<'_>) -> Result<Self, Damage> {
        let template = section.u16(13)?;
        if section.u8(6)? != 0 {
            let words = "a grid defined elsewhere than in its message".to_owned();
            return Err(section.damage(Fault::UnsupportedFeature(words)));
        }
        let (flags_octet, scanning_octet) = match template {
            0 | 1 | 40 => (55, 72),
            10 => (47, 60),
            20 | 30 => (47, 65),
            _ => return Err(section.damage(Fault::Unsupported { table: 3, template })),
        };
        let flags = section.u8(flags_octet)?;
        let of_list = section.u8(11)? != 0;
        if of_list && matches!(template, 0 | 40) {
            return Self::read_reduced(section, scanning_mode(section, scanning_octet)?, flags);
        }
        let (columns, rows) = grid_octets::counts(section)?;
        let scanning = scanning_mode(section, scanning_octet)?;
        let counts = (columns, rows);
        let shape = match template {
            0 => Shape::read_regular(section, counts, scanning)?,
            1 => Shape::read_turned(section, counts, scanning)?,
            10 => Shape::read_mercator(section, counts, scanning)?,
            20 => Shape::Conic(ConicGrid::read_stereographic(section, counts, scanning)?),
            30 => Shape::Conic(ConicGrid::read_lambert(section, counts, scanning)?),
            _ => Shape::read_gaussian(section, counts, scanning)?,
        };
        Ok(Self::of(section, counts, scanning, flags, shape))
    }

    fn read_reduced(section: &Section<'_>, scanning: u8, flags: u8) -> Result<Self, Damage> {
        if scanning & COLUMN_BY_COLUMN != 0 {
            return Err(unsupported(section, "rows of unequal length stored by columns"));
        }
        let lengths = ReducedGrid::lengths(section, section.u32(35)?)?;
        let shape = Shape::read_reduced(section, &lengths, scanning)?;
        let longest = lengths.iter().copied().max().unwrap_or_default();
        let counts = (longest, lengths.len() as u32);
        Ok(Self::of(section, counts, scanning, flags, shape))
    }

    fn of(section: &Section<'_>, (columns, rows): (u32, u32), scanning: u8, flags: u8, shape: Shape) -> Self {
        Self {
            octets: section.bytes.to_vec(),
            columns,
            rows,
            scanning,
            wraps: match &shape {
                Shape::Parallels { columns, .. } | Shape::Turned { columns, .. } => columns.wraps,
                Shape::Conic(_) => false,
                Shape::Reduced(_) => true,
            },
            vectors_follow_grid: flags & VECTORS_FOLLOW_GRID != 0,
            shape,
        }
    }

    /// The grid's identity: 16 hexadecimal digits of the SHA-256 of section 3, after `nearest-` where the nearest node alone
    /// serves a place since rows and columns are not parallels and meridians, and after `nearest-turned-` where vectors
    /// follow them.
    pub fn hash(&self) -> String {
        let digits = forecast::hash::short_hash(&self.octets, 16);
        if self.turns_vectors() {
            format!("{TURNED_PREFIX}{digits}")
        } else if self.is_of_parallels_and_meridians() {
            digits
        } else {
            format!("{NEAREST_PREFIX}{digits}")
        }
    }

    /// Flag table 3.3, bit 5: u and v point along the grid's x and y, not east and north.
    pub fn vectors_follow_grid(&self) -> bool {
        self.vectors_follow_grid
    }

    /// The axes, where the grid is a regular one of latitudes and longitudes.
    pub fn regular(&self) -> Option<RegularAxes> {
        match &self.shape {
            Shape::Parallels {
                columns,
                rows: Rows::Even(rows),
            } => Some(RegularAxes {
                first_lat: rows.first,
                first_lon: columns.first,
                row_step: rows.step,
                column_step: columns.step,
            }),
            _ => None,
        }
    }

    /// Whether rows lie on parallels and columns on meridians, so that latitude and longitude each find a place by
    /// themselves: regular latitudes and longitudes, Mercator, regular Gaussian.
    fn is_of_parallels_and_meridians(&self) -> bool {
        matches!(self.shape, Shape::Parallels { .. })
    }

    /// The node of this column and row; both are below [`Self::columns`] and [`Self::rows`].
    pub fn node_at(&self, column: u32, row: u32) -> Node {
        let at = self.shape.place_of(column, row);
        Node { column, row, at }
    }

    /// Where the value of a node stands among the stored values, from 0; none outside the grid.
    pub fn storage_index(&self, column: u32, row: u32) -> Option<u64> {
        if let Shape::Reduced(grid) = &self.shape {
            let (start, length) = grid.start_and_length(row)?;
            let along = (column < length).then(|| self.stored_along(row, column, length))?;
            return Some(u64::from(start) + u64::from(along));
        }
        if column >= self.columns || row >= self.rows {
            return None;
        }
        let by_column = self.scanning & COLUMN_BY_COLUMN != 0;
        let (line, along, length) = if by_column {
            (column, row, self.rows)
        } else {
            (row, column, self.columns)
        };
        let along = self.stored_along(line, along, length);
        Some(u64::from(line) * u64::from(length) + u64::from(along))
    }

    fn stored_along(&self, line: u32, along: u32, length: u32) -> u32 {
        if self.scanning & ALTERNATING != 0 && line % 2 == 1 {
            length - 1 - along
        } else {
            along
        }
    }

    /// Points of the grid.
    pub fn points(&self) -> u64 {
        match &self.shape {
            Shape::Reduced(grid) => grid.points(),
            _ => u64::from(self.columns) * u64::from(self.rows),
        }
    }
}
