//! Between the nodes: the cell round a place, its bilinear weights, the nearest node, the nodes about.
//!
//! Must not know: which quantity a value is. Directions have to be interpolated as vectors, which is the caller's to do.

use crate::GridDefinition;
use crate::axis::AxisPosition;
use crate::shape::Shape;
use forecast::{Node, Sample};
use seaway::LatLon;

/// The four nodes round a place and what each weighs.
///
/// On a row, a column or a node some corners are the same node twice; the weights of the second ones are zero.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cell {
    /// First and next column of the first row, then of the next row.
    pub corners: [Node; 4],
    /// Weights linear along the grid's own rows and columns (degrees, or metres on a map); they add up to 1.
    pub weights: [f64; 4],
}

impl GridDefinition {
    /// The cell that holds a place; none outside the grid: nothing is clamped to its edge. None either where rows are of
    /// unequal length, between which there are no cells.
    pub fn cell(&self, place: LatLon) -> Option<Cell> {
        let (column, row) = self.shape.locate(place)?;
        let (next_column, next_row) = (self.next_column(column), next_row(row));
        let (columns, rows) = ([column.index, next_column], [row.index, next_row]);
        let places = self.shape.places_of(columns, rows);
        let corner = |at: usize| Node {
            column: columns[at % 2],
            row: rows[at / 2],
            at: places[at],
        };
        let corners = [corner(0), corner(1), corner(2), corner(3)];
        let (x, y) = (column.fraction, row.fraction);
        let weights = [(1.0 - x) * (1.0 - y), x * (1.0 - y), (1.0 - x) * y, x * y];
        Some(Cell { corners, weights })
    }

    /// The node nearest by row and column, or on the Earth where rows are of unequal length; none outside the grid.
    pub fn nearest(&self, place: LatLon) -> Option<Node> {
        if let Shape::Reduced(grid) = &self.shape {
            let (column, row) = grid.nearest(place)?;
            return Some(self.node_at(column, row));
        }
        let (column, row) = self.shape.locate(place)?;
        let east = if column.fraction < 0.5 {
            column.index
        } else {
            self.next_column(column)
        };
        let down = if row.fraction < 0.5 {
            row.index
        } else {
            next_row(row)
        };
        Some(self.node_at(east, down))
    }

    /// The corners of the place's cell and `ring` rows and columns beyond them, row by row.
    ///
    /// Clipped at the edges of the grid, going on at the first column where the grid goes round the Earth;
    /// each node once. Empty outside the grid.
    pub fn nodes_around(&self, place: LatLon, ring: u32) -> Vec<Node> {
        if let Shape::Reduced(grid) = &self.shape {
            let nodes = grid.around(place, ring).into_iter();
            return nodes.map(|(column, row)| self.node_at(column, row)).collect();
        }
        let Some((column, row)) = self.shape.locate(place) else {
            return Vec::new();
        };
        let (ring, last) = (i64::from(ring), i64::from(self.rows) - 1);
        let first_row = (i64::from(row.index) - ring).max(0);
        let last_row = (i64::from(row.index) + 1 + ring).min(last);
        let columns = self.columns_around(column.index, ring);
        let rows = first_row..=last_row;
        rows.flat_map(|row| {
            columns
                .iter()
                .map(move |&column| self.node_at(column, row as u32))
        })
        .collect()
    }

    fn columns_around(&self, index: u32, ring: i64) -> Vec<u32> {
        let (index, count) = (i64::from(index), i64::from(self.columns));
        let (first, last) = (index - ring, index + 1 + ring);
        if !self.wraps {
            return (first.max(0)..=last.min(count - 1))
                .map(|column| column as u32)
                .collect();
        }
        let last = last.min(first + count - 1);
        (first..=last)
            .map(|column| column.rem_euclid(count) as u32)
            .collect()
    }

    fn next_column(&self, column: AxisPosition) -> u32 {
        if column.fraction > 0.0 {
            (column.index + 1) % self.columns
        } else {
            column.index
        }
    }
}

fn next_row(row: AxisPosition) -> u32 {
    row.index + u32::from(row.fraction > 0.0)
}

/// The value between the nodes of a cell, given the samples of its corners in order.
///
/// # Errors
/// The gap of the first corner that weighs anything and has no value.
pub fn bilinear(cell: &Cell, samples: &[Sample]) -> Sample {
    let mut sum = 0.0;
    for (weight, sample) in cell.weights.iter().zip(samples) {
        if *weight > 0.0 {
            sum += weight * f64::from((*sample)?);
        }
    }
    if samples.len() < cell.weights.len() {
        Err(forecast::Gap::Damaged)
    } else {
        Ok(sum as f32)
    }
}
