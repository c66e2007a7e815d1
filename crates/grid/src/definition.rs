//! Section 3: where the points of a regular latitude-longitude grid lie and in which order they are stored.
//!
//! Owns: template 3.0 and every scanning mode of flag table 3.4 but staggered rows. Must not know: values.
//!
//! A node is named by its column and row, counted from the grid's first point in the message's own scanning directions:
//! column 0 is the meridian of the first point (the easternmost one when columns run west), row 0 its parallel.
//! The name says nothing of the order of storage, which [`GridDefinition::storage_index`] alone knows.

use crate::sections::Section;
use crate::{Damage, Fault, MOST_POINTS};
use forecast::Node;
use seaway::LatLon;
use serde::{Deserialize, Serialize};

/// Coordinates are stored in millionths of a degree.
const COORDINATE_STEP: f64 = 1.0e-6;
/// Flag table 3.4: columns run from east to west.
const COLUMNS_RUN_WEST: u8 = 0x80;
/// Flag table 3.4: rows run from south to north.
const ROWS_RUN_NORTH: u8 = 0x40;
/// Flag table 3.4: adjacent points of a column are consecutive.
const COLUMN_BY_COLUMN: u8 = 0x20;
/// Flag table 3.4: every second row (or column) is stored backwards.
const ALTERNATING: u8 = 0x10;
/// Flag table 3.4: staggered points or rows of other lengths.
const STAGGERED: u8 = 0x0f;

/// A regular latitude-longitude grid.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct GridDefinition {
    /// Section 3 as it stands in the message: the grid's identity.
    octets: Vec<u8>,
    /// Ni: nodes along a parallel.
    pub columns: u32,
    /// Nj: nodes along a meridian.
    pub rows: u32,
    /// Latitude of the first point, degrees north.
    pub first_lat: f64,
    /// Longitude of the first point, degrees east, as the message writes it.
    pub first_lon: f64,
    /// From one row to the next, degrees north; negative when rows run south.
    pub row_step: f64,
    /// From one column to the next, degrees east; negative when columns run west.
    pub column_step: f64,
    /// A place nearer than this to a row, in degrees, is on the row.
    row_slack: f64,
    /// A place nearer than this to a column, in degrees, is on the column.
    column_slack: f64,
    /// Scanning mode (flag table 3.4).
    pub scanning: u8,
    /// Whether the column after the last one is the first one again.
    pub wraps: bool,
}

/// A place on one axis of the grid: the node before it and the share of the way to the next one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct AxisPosition {
    pub index: u32,
    pub fraction: f64,
}

impl GridDefinition {
    /// Reads section 3.
    ///
    /// # Errors
    /// Unsupported for any other template, quasi-regular and staggered grids; otherwise what contradicts itself.
    pub(crate) fn read(section: &Section<'_>) -> Result<Self, Damage> {
        let unsupported = |what: &str| section.damage(Fault::UnsupportedFeature(what.to_owned()));
        let template = section.u16(13)?;
        if section.u8(6)? != 0 {
            return Err(unsupported("a grid defined elsewhere than in its message"));
        }
        if template != 0 {
            return Err(section.damage(Fault::Unsupported { table: 3, template }));
        }
        let (columns, rows, scanning) = (section.u32(31)?, section.u32(35)?, section.u8(72)?);
        if section.u8(11)? != 0 || columns == u32::MAX || rows == u32::MAX {
            return Err(unsupported("template 3.0 with rows of unequal length"));
        }
        check_point_count(section, columns, rows)?;
        if scanning & STAGGERED != 0 {
            return Err(unsupported("template 3.0 with staggered points"));
        }
        let unit = coordinate_unit(section)?;
        let (first_lat, last_lat) = (latitude(section, 47, unit)?, latitude(section, 56, unit)?);
        let (first_lon, last_lon) = (longitude(section, 51, unit)?, longitude(section, 60, unit)?);
        let flags = section.u8(55)?;
        let stated = |given: u8, octet| stated_step(section, flags & given != 0, octet, unit);
        let (column_stated, row_stated) = (stated(0x20, 64)?, stated(0x10, 68)?);

        let north = scanning & ROWS_RUN_NORTH != 0;
        let height = if north {
            last_lat - first_lat
        } else {
            first_lat - last_lat
        };
        if height < 0.0 {
            return Err(section.contradiction("rows run the other way than the scanning mode says"));
        }
        let west = scanning & COLUMNS_RUN_WEST != 0;
        let width = if west {
            first_lon - last_lon
        } else {
            last_lon - first_lon
        };
        let width = turn_that_fits(width.rem_euclid(360.0), columns, column_stated);
        let (row_step, row_slack) = step(section, height, rows, row_stated)?;
        let (column_step, column_slack) = step(section, width, columns, column_stated)?;
        Ok(Self {
            octets: section.bytes.to_vec(),
            columns,
            rows,
            first_lat,
            first_lon,
            row_step: if north { row_step } else { -row_step },
            column_step: if west { -column_step } else { column_step },
            row_slack,
            column_slack,
            scanning,
            wraps: columns > 1 && (width + column_step - 360.0).abs() < column_step / 2.0,
        })
    }

    /// The grid's identity: 16 hexadecimal digits of the SHA-256 of section 3.
    pub fn hash(&self) -> String {
        forecast::hash::short_hash(&self.octets, 16)
    }

    /// Flag table 3.3, bit 5: u and v point along the grid's columns and rows as they are scanned, not east and north.
    pub fn vectors_follow_grid(&self) -> bool {
        self.octets.get(54).is_some_and(|flags| flags & 0x08 != 0)
    }

    /// The node of this column and row; both are below [`Self::columns`] and [`Self::rows`].
    pub fn node_at(&self, column: u32, row: u32) -> Node {
        let lat = self.first_lat + f64::from(row) * self.row_step;
        let lon = self.first_lon + f64::from(column) * self.column_step;
        let lon = seaway::quantity::signed_difference(0.0, lon);
        Node {
            column,
            row,
            at: LatLon {
                lat: lat.clamp(-90.0, 90.0),
                lon,
            },
        }
    }

    /// Where the value of a node stands among the stored values, from 0; none outside the grid.
    pub fn storage_index(&self, column: u32, row: u32) -> Option<u64> {
        if column >= self.columns || row >= self.rows {
            return None;
        }
        let by_column = self.scanning & COLUMN_BY_COLUMN != 0;
        let (line, mut along, length) = if by_column {
            (column, row, self.rows)
        } else {
            (row, column, self.columns)
        };
        if self.scanning & ALTERNATING != 0 && line % 2 == 1 {
            along = length - 1 - along;
        }
        Some(u64::from(line) * u64::from(length) + u64::from(along))
    }

    /// Points of the grid.
    pub fn points(&self) -> u64 {
        u64::from(self.columns) * u64::from(self.rows)
    }

    /// Column and row of a place with the shares of the way to the next; none outside the grid.
    pub(crate) fn locate(&self, place: LatLon) -> Option<(AxisPosition, AxisPosition)> {
        let east = (place.lon - self.first_lon) * self.column_step.signum();
        let mut along = east.rem_euclid(360.0);
        if along > 360.0 - self.column_slack {
            along -= 360.0;
        }
        let down = (place.lat - self.first_lat) * self.row_step.signum();
        let column = position(
            along,
            self.column_step.abs(),
            self.column_slack,
            self.columns,
            self.wraps,
        )?;
        Some((
            column,
            position(down, self.row_step.abs(), self.row_slack, self.rows, false)?,
        ))
    }
}

fn check_point_count(section: &Section<'_>, columns: u32, rows: u32) -> Result<(), Damage> {
    let (product, stated) = (u64::from(columns) * u64::from(rows), section.u32(7)?);
    if product == 0 || product > MOST_POINTS {
        let words =
            format!("implausible grid of {columns} by {rows} points (at most {MOST_POINTS} are read)");
        return Err(section.contradiction(words));
    }
    if product != u64::from(stated) {
        let words = format!("{columns} columns by {rows} rows are not the {stated} points it states");
        return Err(section.contradiction(words));
    }
    Ok(())
}

/// Degrees of one unit of the stored coordinates: millionths unless a basic angle says otherwise.
fn coordinate_unit(section: &Section<'_>) -> Result<f64, Damage> {
    let (basic, parts) = (section.u32(39)?, section.u32(43)?);
    if basic == 0 || basic == u32::MAX {
        return Ok(COORDINATE_STEP);
    }
    if parts == 0 || parts == u32::MAX {
        return Err(section.contradiction("a basic angle without its subdivisions"));
    }
    Ok(f64::from(basic) / f64::from(parts))
}

fn latitude(section: &Section<'_>, octet: usize, unit: f64) -> Result<f64, Damage> {
    let degrees = scaled(f64::from(section.signed_32(octet)?), unit);
    if (-90.0..=90.0).contains(&degrees) {
        Ok(degrees)
    } else {
        Err(section.contradiction(format!("latitude {degrees} is none")))
    }
}

fn longitude(section: &Section<'_>, octet: usize, unit: f64) -> Result<f64, Damage> {
    let degrees = scaled(f64::from(section.signed_32(octet)?), unit);
    if (-720.0..=720.0).contains(&degrees) {
        Ok(degrees)
    } else {
        Err(section.contradiction(format!("longitude {degrees} is none")))
    }
}

/// Millionths are divided, not multiplied, so that 46000000 is 46 exactly.
fn scaled(stored: f64, unit: f64) -> f64 {
    if unit == COORDINATE_STEP {
        stored / 1.0e6
    } else {
        stored * unit
    }
}

fn stated_step(section: &Section<'_>, given: bool, octet: usize, unit: f64) -> Result<Option<f64>, Damage> {
    let stored = section.u32(octet)?;
    Ok((given && stored != u32::MAX && stored != 0).then(|| scaled(f64::from(stored), unit)))
}

/// Columns may go once round the Earth and end on the meridian they began at: only the stated step tells 0 from 360.
fn turn_that_fits(width: f64, columns: u32, stated: Option<f64>) -> f64 {
    let stated_width = stated.map_or(360.0, |step| step * f64::from(columns.saturating_sub(1)));
    if columns > 1 && width < COORDINATE_STEP && stated_width > 180.0 {
        360.0
    } else {
        width
    }
}

/// Degrees from node to node, from the corners, which are exact where a stated step is rounded; both have to agree.
///
/// With it comes how far the message itself leaves open where a node lies: a millionth of a degree, and for a step of
/// 0.166667 degrees the rounding summed over all rows, but never more than a thousandth of a cell.
fn step(section: &Section<'_>, extent: f64, count: u32, stated: Option<f64>) -> Result<(f64, f64), Damage> {
    if count == 1 {
        return Ok((stated.unwrap_or(1.0), COORDINATE_STEP));
    }
    let gaps = f64::from(count - 1);
    let step = extent / gaps;
    if step < 10.0 * COORDINATE_STEP {
        return Err(section.contradiction(format!("{count} points within {extent} degrees are no grid")));
    }
    let stated = stated.unwrap_or(step);
    let rounding = (stated * gaps - extent).abs();
    // A tenth of a cell at the far corner is more than rounding to millionths makes on any real grid.
    if rounding > step / 10.0 {
        let words = format!("the stated step of {stated} degrees and the corners ({step} degrees) disagree");
        return Err(section.contradiction(words));
    }
    Ok((step, COORDINATE_STEP + rounding.min(step / 1000.0)))
}

fn position(distance: f64, step: f64, slack: f64, count: u32, wraps: bool) -> Option<AxisPosition> {
    let steps = distance / step;
    let nearest = steps.round();
    let on_node = (distance - nearest * step).abs() <= slack;
    let (index, fraction) = if on_node {
        (nearest, 0.0)
    } else {
        (steps.floor(), steps - steps.floor())
    };
    let count = f64::from(count);
    if wraps && index >= count {
        return Some(AxisPosition {
            index: 0,
            fraction: 0.0,
        })
        .filter(|_| on_node);
    }
    let inside = index >= 0.0 && (index < count - 1.0 || (index == count - 1.0 && (on_node || wraps)));
    inside.then_some(AxisPosition {
        index: index as u32,
        fraction,
    })
}
