//! The geometry of a grid whatever its template: places to columns and rows and back, and the direction of its x.
//!
//! Owns: the choice by template. Must not know: the order in which values are stored.

use crate::axis::{Axis, AxisPosition};
use crate::conic::ConicGrid;
use crate::gaussian::GaussianRows;
use crate::grid_octets::{self, COLUMN_STEP_GIVEN, COLUMNS_RUN_WEST, ROW_STEP_GIVEN};
use crate::reduced::ReducedGrid;
use crate::rotated::TurnedSphere;
use crate::rows::Rows;
use crate::sections::Section;
use crate::{Damage, mercator};
use seaway::LatLon;
use seaway::quantity::signed_difference;
use serde::{Deserialize, Serialize};

/// A place nearer than this to a row or column of a turned sphere is on it, degrees.
const TURNED_SLACK: f64 = 5.0e-6;

/// Where the nodes of a grid lie.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) enum Shape {
    /// Rows on parallels, columns on meridians: templates 3.0, 3.10 and 3.40.
    Parallels { columns: Axis, rows: Rows },
    /// The same of a turned sphere: template 3.1.
    Turned {
        columns: Axis,
        rows: Axis,
        sphere: TurnedSphere,
    },
    /// A conformal cone or the plane at a pole: templates 3.30 and 3.20.
    Conic(ConicGrid),
    /// Rows of unequal length: templates 3.0 and 3.40 with a list.
    Reduced(ReducedGrid),
}

impl Shape {
    /// Template 3.0.
    pub fn read_regular(
        section: &Section<'_>,
        (columns, rows): (u32, u32),
        scanning: u8,
    ) -> Result<Self, Damage> {
        let rows = read_even_rows(section, rows, scanning)?;
        Ok(Self::Parallels {
            columns: read_columns(section, columns, scanning)?,
            rows: Rows::Even(rows),
        })
    }

    /// Template 3.1.
    pub fn read_turned(
        section: &Section<'_>,
        (columns, rows): (u32, u32),
        scanning: u8,
    ) -> Result<Self, Damage> {
        // A place given in millionths of a degree on the Earth is off by more on the turned sphere.
        let eased = |axis: Axis| Axis {
            slack: TURNED_SLACK.max(axis.slack),
            ..axis
        };
        Ok(Self::Turned {
            columns: eased(read_columns(section, columns, scanning)?),
            rows: eased(read_even_rows(section, rows, scanning)?),
            sphere: TurnedSphere::read(section)?,
        })
    }

    /// Template 3.40.
    pub fn read_gaussian(
        section: &Section<'_>,
        (columns, rows): (u32, u32),
        scanning: u8,
    ) -> Result<Self, Damage> {
        let rows = GaussianRows::read(section, rows, scanning)?;
        Ok(Self::Parallels {
            columns: read_columns(section, columns, scanning)?,
            rows: Rows::Gaussian(rows),
        })
    }

    /// Template 3.10.
    pub fn read_mercator(section: &Section<'_>, counts: (u32, u32), scanning: u8) -> Result<Self, Damage> {
        let (columns, rows) = mercator::read(section, counts, scanning)?;
        let rows = Rows::Mercator(rows);
        Ok(Self::Parallels { columns, rows })
    }

    /// Templates 3.0 and 3.40 with a list of the rows' lengths.
    pub fn read_reduced(section: &Section<'_>, lengths: &[u32], scanning: u8) -> Result<Self, Damage> {
        let count = lengths.len() as u32;
        let rows = if section.u16(13)? == 0 {
            Rows::Even(read_even_rows(section, count, scanning)?)
        } else {
            Rows::Gaussian(GaussianRows::read(section, count, scanning)?)
        };
        let west = scanning & COLUMNS_RUN_WEST != 0;
        ReducedGrid::read(section, rows, lengths, west).map(Self::Reduced)
    }

    /// Column and row of a place with the shares of the way to the next; none outside, nor where rows are of unequal
    /// length.
    pub fn locate(&self, place: LatLon) -> Option<(AxisPosition, AxisPosition)> {
        match self {
            Self::Parallels { columns, rows } => Some((columns.around(place.lon)?, rows.locate(place.lat)?)),
            Self::Turned {
                columns,
                rows,
                sphere,
            } => {
                let turned = sphere.turned(place);
                Some((columns.around(turned.lon)?, rows.along(turned.lat)?))
            }
            Self::Conic(grid) => grid.locate(place),
            Self::Reduced(_) => None,
        }
    }

    /// Where a node lies.
    pub fn place_of(&self, column: u32, row: u32) -> LatLon {
        match self {
            Self::Parallels { columns, rows } => LatLon {
                lat: rows.latitude_of(row),
                lon: signed_difference(0.0, columns.at(column)),
            },
            Self::Turned {
                columns,
                rows,
                sphere,
            } => sphere.on_earth(turned_place(columns, rows, column, row)),
            Self::Conic(grid) => grid.place_of(column, row),
            Self::Reduced(grid) => grid.place_of(column, row),
        }
    }

    /// Where the nodes of two columns lie in one row, then in another; a parallel and a meridian are asked for once.
    pub fn places_of(&self, columns: [u32; 2], rows: [u32; 2]) -> [LatLon; 4] {
        let corners = [
            (columns[0], rows[0]),
            (columns[1], rows[0]),
            (columns[0], rows[1]),
            (columns[1], rows[1]),
        ];
        let Self::Parallels { .. } = self else {
            return corners.map(|(column, row)| self.place_of(column, row));
        };
        let (first, last) = (
            self.place_of(columns[0], rows[0]),
            self.place_of(columns[1], rows[1]),
        );
        let place = |lat, lon| LatLon { lat, lon };
        [
            first,
            place(first.lat, last.lon),
            place(last.lat, first.lon),
            last,
        ]
    }

    /// Degrees from true east to the grid's x, counter-clockwise, at a node.
    pub fn rotation(&self, column: u32, row: u32) -> f64 {
        match self {
            Self::Parallels { .. } | Self::Reduced(_) => 0.0,
            Self::Turned {
                columns,
                rows,
                sphere,
            } => sphere.rotation(turned_place(columns, rows, column, row)),
            Self::Conic(grid) => grid.rotation(column, row),
        }
    }
}

fn turned_place(columns: &Axis, rows: &Axis, column: u32, row: u32) -> LatLon {
    LatLon {
        lat: rows.at(row).clamp(-90.0, 90.0),
        lon: columns.at(column),
    }
}

/// Octets 47 to 72 of templates 3.0 and 3.1.
fn read_even_rows(section: &Section<'_>, count: u32, scanning: u8) -> Result<Axis, Damage> {
    let unit = grid_octets::coordinate_unit(section)?;
    let corners = (
        grid_octets::latitude(section, 47, unit)?,
        grid_octets::latitude(section, 56, unit)?,
    );
    let given = section.u8(55)? & ROW_STEP_GIVEN != 0;
    let stated = grid_octets::stated_step(section, given, 68, unit)?;
    grid_octets::row_axis(section, corners, count, stated, scanning)
}

/// Octets 51 to 67 of templates 3.0, 3.1 and 3.40.
fn read_columns(section: &Section<'_>, count: u32, scanning: u8) -> Result<Axis, Damage> {
    let unit = grid_octets::coordinate_unit(section)?;
    let corners = (
        grid_octets::longitude(section, 51, unit)?,
        grid_octets::longitude(section, 60, unit)?,
    );
    let given = section.u8(55)? & COLUMN_STEP_GIVEN != 0;
    let stated = grid_octets::stated_step(section, given, 64, unit)?;
    grid_octets::column_axis(section, corners, count, stated, scanning)
}
