//! Mercator grids (template 3.10): columns even in longitude, rows even in metres on the map.
//!
//! Octets: 31 and 35 columns and rows, 39 and 43 latitude and longitude of the first point, 47 flags (table 3.3), 48 LaD,
//! where lengths are true, 52 and 56 latitude and longitude of the last point, 60 scanning mode (table 3.4), 61 the grid's
//! angle to the equator, 65 and 69 lengths along a row and a column in thousandths of a metre.
//! Formulas: Snyder 1987 (7-7) to (7-9), from memory. The lengths count, as producers round the last point; it is a check.

use crate::Damage;
use crate::axis::{Axis, AxisPosition};
use crate::earth::Earth;
use crate::grid_octets::{
    COLUMNS_RUN_WEST, MILLIONTH, ROWS_RUN_NORTH, latitude, longitude, metres, unsupported,
};
use crate::sections::Section;
use serde::{Deserialize, Serialize};

/// The map ends here: at the poles it has no end.
const FARTHEST_LATITUDE: f64 = 89.9;
/// A place nearer than this to a row is on it, metres: coordinates are stored in millionths of a degree.
const SLACK: f64 = 0.5;
/// Cells by which the stated last point may lie elsewhere than the lengths say; a real grid of 2,517 columns is one off.
const CELLS_OFF: f64 = 2.0;

/// Rows at even metres on a Mercator map.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct MercatorRows {
    earth: Earth,
    /// Metres on the map for one radius of it on the equator.
    scale: f64,
    rows: Axis,
}

impl MercatorRows {
    /// Position of a latitude; none beyond the first and the last row.
    pub fn locate(&self, latitude: f64) -> Option<AxisPosition> {
        self.rows.along(northing(&self.earth, self.scale, latitude))
    }

    /// Latitude of a row, degrees.
    pub fn latitude_of(&self, row: u32) -> f64 {
        let conformal = (-self.rows.at(row) / self.scale).exp();
        self.earth.latitude_of(conformal).to_degrees()
    }
}

fn northing(earth: &Earth, scale: f64, latitude: f64) -> f64 {
    -scale * earth.conformal(latitude.to_radians()).ln()
}

/// Columns and rows of template 3.10.
///
/// # Errors
/// Unsupported where rows are no parallels; otherwise what cannot be on the Earth.
pub(crate) fn read(
    section: &Section<'_>,
    (columns, rows): (u32, u32),
    scanning: u8,
) -> Result<(Axis, MercatorRows), Damage> {
    if !matches!(section.u32(61)?, 0 | u32::MAX) {
        return Err(unsupported(section, "rows at an angle to the equator"));
    }
    let earth = Earth::read(section)?;
    let (first_lat, true_at, last_lat) = (
        latitude(section, 39, MILLIONTH)?,
        latitude(section, 48, MILLIONTH)?,
        latitude(section, 52, MILLIONTH)?,
    );
    if [first_lat, true_at, last_lat]
        .iter()
        .any(|latitude| latitude.abs() > FARTHEST_LATITUDE)
    {
        return Err(section.contradiction("a latitude that is on no Mercator map"));
    }
    let scale = earth.radius * earth.parallel(true_at.to_radians());
    let (west, north) = (scanning & COLUMNS_RUN_WEST != 0, scanning & ROWS_RUN_NORTH != 0);
    let across = (metres(section, 65)? / scale).to_degrees();
    let up = metres(section, 69)?;
    let first = northing(&earth, scale, first_lat);
    let map = MercatorRows {
        earth,
        scale,
        rows: Axis {
            first,
            step: if north { up } else { -up },
            slack: SLACK.min(up / 100.0),
            count: rows,
            wraps: false,
        },
    };
    let turn = f64::from(columns) * across;
    let axis = Axis {
        first: longitude(section, 43, MILLIONTH)?,
        step: if west { -across } else { across },
        slack: MILLIONTH.min(across / 100.0),
        count: columns,
        wraps: columns > 1 && (turn - 360.0).abs() < across / 2.0,
    };
    let far = map.rows.at(rows - 1);
    let rows_off = (far - northing(&earth, scale, last_lat)).abs() / up;
    let last_off = axis.at(columns - 1) - longitude(section, 56, MILLIONTH)?;
    let last_off = last_off.rem_euclid(360.0);
    let columns_off = last_off.min(360.0 - last_off) / across;
    if turn > 360.0 + across * CELLS_OFF || rows_off > CELLS_OFF || columns_off > CELLS_OFF {
        return Err(section.contradiction("the stated lengths and the last point disagree"));
    }
    Ok((axis, map))
}
