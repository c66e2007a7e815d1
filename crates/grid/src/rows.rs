//! Rows along parallels: even in latitude (3.0), even on a Mercator map (3.10), or Gaussian (3.40).
//!
//! Must not know: columns.

use crate::axis::{Axis, AxisPosition};
use crate::gaussian::GaussianRows;
use crate::mercator::MercatorRows;
use serde::{Deserialize, Serialize};

/// Where the rows of a grid lie.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) enum Rows {
    /// Even steps of latitude.
    Even(Axis),
    /// Even steps on a Mercator map.
    Mercator(MercatorRows),
    /// Gaussian parallels.
    Gaussian(GaussianRows),
}

impl Rows {
    /// Position of a latitude; none beyond the first and the last row.
    pub fn locate(&self, latitude: f64) -> Option<AxisPosition> {
        match self {
            Self::Even(axis) => axis.along(latitude),
            Self::Mercator(rows) => rows.locate(latitude),
            Self::Gaussian(rows) => rows.locate(latitude),
        }
    }

    /// Latitude of a row, degrees.
    pub fn latitude_of(&self, row: u32) -> f64 {
        let latitude = match self {
            Self::Even(axis) => axis.at(row),
            Self::Mercator(rows) => rows.latitude_of(row),
            Self::Gaussian(rows) => rows.latitude_of(row),
        };
        latitude.clamp(-90.0, 90.0)
    }
}
