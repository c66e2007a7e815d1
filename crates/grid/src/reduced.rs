//! Rows of unequal length (templates 3.0 and 3.40 with the list of octet 11): each row goes once round the Earth, with
//! fewer points the nearer it lies to a pole.
//!
//! The list follows the template at octet 73: a number of points for each row, in as many octets as octet 11 says; octet
//! 12 says what the numbers mean (code table 3.11: 1 whole parallels, 2 the same where the corners span a whole turn).
//! There are no cells of four nodes: a place has its nearest node and nothing between nodes.

use crate::axis::Axis;
use crate::grid_octets::{coordinate_unit, longitude, unsupported};
use crate::rows::Rows;
use crate::sections::Section;
use crate::{Damage, MOST_POINTS};
use seaway::LatLon;
use serde::{Deserialize, Serialize};

/// Where the list begins.
const LIST_OCTET: usize = 73;

/// Rows of their own lengths, each of them a whole parallel.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct ReducedGrid {
    rows: Rows,
    /// Points before each row; one more at the end, which is how many there are.
    starts: Vec<u32>,
    first_lon: f64,
    /// 1.0 where columns run east, else -1.0.
    eastward: f64,
}

impl ReducedGrid {
    /// The numbers of points of so many rows.
    ///
    /// # Errors
    /// A list that is not there, or that does not add up to the points stated.
    pub fn lengths(section: &Section<'_>, rows: u32) -> Result<Vec<u32>, Damage> {
        let octets = usize::from(section.u8(11)?);
        if !matches!(section.u8(12)?, 1 | 2) || !matches!(octets, 1..=4) {
            return Err(unsupported(section, "a list of another kind"));
        }
        let list = section.rest(LIST_OCTET);
        let stated = section.u32(7)?;
        if list.len() / octets < rows as usize || rows == 0 {
            return Err(section.contradiction(format!("a list shorter than its {rows} rows")));
        }
        let number = |octets: &[u8]| {
            octets
                .iter()
                .fold(0_u32, |sum, &octet| sum << 8 | u32::from(octet))
        };
        let lengths: Vec<u32> = list
            .chunks_exact(octets)
            .take(rows as usize)
            .map(number)
            .collect();
        let total: u64 = lengths.iter().copied().map(u64::from).sum();
        if total == 0 || total > MOST_POINTS || total != u64::from(stated) {
            let words =
                format!("rows of {total} points where {stated} are stated (at most {MOST_POINTS} are read)");
            return Err(section.contradiction(words));
        }
        Ok(lengths)
    }

    /// The grid of these rows.
    ///
    /// # Errors
    /// Unsupported where rows are only a part of their parallels.
    pub fn read(section: &Section<'_>, rows: Rows, lengths: &[u32], west: bool) -> Result<Self, Damage> {
        let unit = coordinate_unit(section)?;
        let (first, last) = (longitude(section, 51, unit)?, longitude(section, 60, unit)?);
        let width = if west { first - last } else { last - first }.rem_euclid(360.0);
        let longest = f64::from(lengths.iter().copied().max().unwrap_or(1).max(1));
        if width + 1.5 * 360.0 / longest < 360.0 {
            return Err(unsupported(
                section,
                "rows of unequal length over a part of their parallels",
            ));
        }
        let mut starts = vec![0];
        let mut sum = 0;
        starts.extend(lengths.iter().map(|length| {
            sum += length;
            sum
        }));
        Ok(Self {
            rows,
            starts,
            first_lon: first,
            eastward: if west { -1.0 } else { 1.0 },
        })
    }

    /// How many points there are.
    pub fn points(&self) -> u64 {
        self.starts.last().copied().map_or(0, u64::from)
    }

    /// Points before a row and points in it; none for what is no row.
    pub fn start_and_length(&self, row: u32) -> Option<(u32, u32)> {
        let row = row as usize;
        let (start, next) = (*self.starts.get(row)?, *self.starts.get(row + 1)?);
        Some((start, next - start))
    }

    /// Where a node lies.
    pub fn place_of(&self, column: u32, row: u32) -> LatLon {
        let length = self.start_and_length(row).map_or(1, |(_, length)| length.max(1));
        let step = self.eastward * 360.0 / f64::from(length);
        LatLon {
            lat: self.rows.latitude_of(row),
            lon: seaway::quantity::signed_difference(0.0, self.first_lon + f64::from(column) * step),
        }
    }

    /// Column and row of the node nearest to a place on the Earth; none north and south of all rows.
    pub fn nearest(&self, place: LatLon) -> Option<(u32, u32)> {
        let row = self.rows.locate(place.lat)?;
        let rows = row.index..=row.index + u32::from(row.fraction > 0.0);
        let nodes = rows.filter_map(|row| Some((self.before(place, row)?.1, row)));
        let distance = |&(column, row): &(u32, u32)| place.distance(self.place_of(column, row)).0;
        nodes.min_by(|a, b| distance(a).total_cmp(&distance(b)))
    }

    /// The nodes about a place, row by row: those on both sides of its meridian in the rows on both sides of its
    /// parallel, and `ring` rows and columns beyond.
    pub fn around(&self, place: LatLon, ring: u32) -> Vec<(u32, u32)> {
        let Some(found) = self.rows.locate(place.lat) else {
            return Vec::new();
        };
        let last = (self.starts.len() - 2) as u32;
        let rows = found.index.saturating_sub(ring)..=(found.index + 1).saturating_add(ring).min(last);
        rows.flat_map(|row| self.columns_around(place, row, ring))
            .collect()
    }

    fn columns_around(&self, place: LatLon, row: u32, ring: u32) -> Vec<(u32, u32)> {
        let Some((before, _)) = self.before(place, row) else {
            return Vec::new();
        };
        let length = self
            .start_and_length(row)
            .map_or(1, |(_, length)| i64::from(length));
        let first = i64::from(before) - i64::from(ring);
        let last = (i64::from(before) + 1 + i64::from(ring)).min(first + length - 1);
        (first..=last)
            .map(|column| (column.rem_euclid(length) as u32, row))
            .collect()
    }

    /// The column before a place in a row, and the nearest one; none in a row without points.
    fn before(&self, place: LatLon, row: u32) -> Option<(u32, u32)> {
        let (_, length) = self.start_and_length(row).filter(|(_, length)| *length > 0)?;
        let step = 360.0 / f64::from(length);
        let axis = Axis {
            first: self.first_lon,
            step: self.eastward * step,
            slack: step * 1.0e-9,
            count: length,
            wraps: true,
        };
        let position = axis.around(place.lon)?;
        let nearest = position.index + u32::from(position.fraction >= 0.5);
        Some((position.index, nearest % length))
    }
}
