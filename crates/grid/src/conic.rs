//! Lambert conformal (template 3.30) and polar stereographic grids (template 3.20), which are the same projection: of a
//! cone that touches or cuts the Earth, and that is flat for the stereographic one.
//!
//! Octets of both: 31 and 35 nodes along x and y, 39 and 43 latitude and longitude of the first, 47 flags (table 3.3),
//! 48 LaD, 52 LoV, the meridian along which y runs north, 56 and 60 lengths along x and y in thousandths of a metre,
//! 64 projection centre (table 3.5), 65 scanning mode (table 3.4); of 3.30 also 66 and 70 the standard parallels.
//! Formulas: Snyder 1987 (14-15 to 15-11 and 21-33 to 21-40 are one with a cone constant of 1 or -1), from memory.
//! For 3.30 lengths are true on the standard parallels and LaD is not looked at: common practice of decoders.

use crate::Damage;
use crate::axis::{Axis, AxisPosition};
use crate::earth::Earth;
use crate::grid_octets::{
    COLUMNS_RUN_WEST, MILLIONTH, ROWS_RUN_NORTH, latitude, longitude, metres, unsupported,
};
use crate::sections::Section;
use seaway::LatLon;
use seaway::quantity::signed_difference;
use serde::{Deserialize, Serialize};

/// Flag table 3.5: the south pole is on the plane.
const SOUTH_POLE_ON_PLANE: u8 = 0x80;
/// Flag table 3.5: bipolar and symmetric.
const BIPOLAR: u8 = 0x40;
/// No map of the Earth is wider, metres.
const WIDEST: f64 = 1.0e8;
/// A place nearer than this to a row or column is on it, metres: coordinates are stored in millionths of a degree.
const SLACK: f64 = 0.5;
/// A cone flatter or steeper than this is no cone.
const LEAST_CONE: f64 = 1.0e-3;

/// A conformal cone, unrolled.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct Cone {
    earth: Earth,
    /// Cone constant (n): 1 and -1 for the plane at a pole, negative in the south.
    constant: f64,
    /// Metres from the apex where [`Earth::conformal`] is 1; of the constant's sign.
    scale: f64,
    /// LoV, degrees.
    meridian: f64,
}

impl Cone {
    /// The cone through two standard parallels, or touching at one; all in degrees. None where it has no apex.
    pub fn through(earth: Earth, parallels: [f64; 2], meridian: f64) -> Option<Self> {
        let [first, second] = parallels.map(f64::to_radians);
        if parallels.iter().any(|parallel| parallel.abs() > 89.99) {
            return None;
        }
        let (width, conformal) = (earth.parallel(first), earth.conformal(first));
        let constant = if (first - second).abs() < 1.0e-9 {
            first.sin()
        } else {
            (width / earth.parallel(second)).ln() / (conformal / earth.conformal(second)).ln()
        };
        let scale = earth.radius * width / (constant * conformal.powf(constant));
        let usable = constant.abs() >= LEAST_CONE && scale.is_finite();
        usable.then_some(Self {
            earth,
            constant,
            scale,
            meridian,
        })
    }

    /// The plane at a pole with lengths true on a parallel of its hemisphere; none where they are true nowhere.
    pub fn at_pole(earth: Earth, south: bool, true_at: f64, meridian: f64) -> Option<Self> {
        let constant = if south { -1.0 } else { 1.0 };
        let northward = true_at * constant;
        if northward <= -89.99 {
            return None;
        }
        let scale = if northward > 90.0 - MILLIONTH {
            let (more, less) = (1.0 + earth.eccentricity, 1.0 - earth.eccentricity);
            2.0 * earth.radius / (more.powf(more) * less.powf(less)).sqrt()
        } else {
            let parallel = northward.to_radians();
            earth.radius * earth.parallel(parallel) / earth.conformal(parallel)
        };
        Some(Self {
            earth,
            constant,
            scale: constant * scale,
            meridian,
        })
    }

    /// Metres along x and y from the apex.
    pub fn project(&self, place: LatLon) -> [f64; 2] {
        let angle = self.angle(place.lon);
        let conformal = self.earth.conformal(place.lat.to_radians());
        let from_apex = self.scale * conformal.powf(self.constant);
        [from_apex * angle.sin(), -from_apex * angle.cos()]
    }

    /// The place at these metres from the apex.
    pub fn place(&self, [x, y]: [f64; 2]) -> LatLon {
        let sign = self.constant.signum();
        let angle = (sign * x).atan2(-sign * y);
        let conformal = (x.hypot(y) / self.scale.abs()).powf(1.0 / self.constant);
        LatLon {
            lat: self.earth.latitude_of(conformal).to_degrees().clamp(-90.0, 90.0),
            lon: signed_difference(0.0, self.meridian + (angle / self.constant).to_degrees()),
        }
    }

    /// Degrees from true east to x, counter-clockwise, on this meridian.
    pub fn rotation(&self, longitude: f64) -> f64 {
        -self.angle(longitude).to_degrees()
    }

    fn angle(&self, longitude: f64) -> f64 {
        self.constant * signed_difference(self.meridian, longitude).to_radians()
    }
}

/// The nodes of a grid on a cone.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct ConicGrid {
    cone: Cone,
    columns: Axis,
    rows: Axis,
}

impl ConicGrid {
    /// Reads template 3.20.
    ///
    /// # Errors
    /// Bipolar grids are unsupported; otherwise what cannot be on the Earth.
    pub fn read_stereographic(
        section: &Section<'_>,
        counts: (u32, u32),
        scanning: u8,
    ) -> Result<Self, Damage> {
        let (earth, meridian) = (Earth::read(section)?, longitude(section, 52, MILLIONTH)?);
        let true_at = latitude(section, 48, MILLIONTH)?;
        let south = centre(section)? & SOUTH_POLE_ON_PLANE != 0;
        let cone = Cone::at_pole(earth, south, true_at, meridian);
        let cone = cone.ok_or_else(|| {
            section.contradiction(format!("lengths true at {true_at} N, which the plane lacks"))
        })?;
        Self::on(cone, section, counts, scanning)
    }

    /// Reads template 3.30.
    ///
    /// # Errors
    /// Bipolar grids are unsupported; otherwise what cannot be on the Earth.
    pub fn read_lambert(section: &Section<'_>, counts: (u32, u32), scanning: u8) -> Result<Self, Damage> {
        let (earth, meridian) = (Earth::read(section)?, longitude(section, 52, MILLIONTH)?);
        let parallels = [
            latitude(section, 66, MILLIONTH)?,
            latitude(section, 70, MILLIONTH)?,
        ];
        centre(section)?;
        let cone = Cone::through(earth, parallels, meridian).ok_or_else(|| {
            let [first, second] = parallels;
            section.contradiction(format!(
                "standard parallels of {first} and {second} N make no cone"
            ))
        })?;
        Self::on(cone, section, counts, scanning)
    }

    fn on(
        cone: Cone,
        section: &Section<'_>,
        (columns, rows): (u32, u32),
        scanning: u8,
    ) -> Result<Self, Damage> {
        let first = LatLon {
            lat: latitude(section, 39, MILLIONTH)?,
            lon: longitude(section, 43, MILLIONTH)?,
        };
        let [x, y] = cone.project(first);
        let steps = [metres(section, 56)?, metres(section, 60)?];
        let axis = |first: f64, step: f64, count: u32, forwards: bool| Axis {
            first,
            step: if forwards { step } else { -step },
            slack: SLACK.min(step / 100.0),
            count,
            wraps: false,
        };
        let grid = Self {
            cone,
            columns: axis(x, steps[0], columns, scanning & COLUMNS_RUN_WEST == 0),
            rows: axis(y, steps[1], rows, scanning & ROWS_RUN_NORTH != 0),
        };
        grid.check(section)?;
        Ok(grid)
    }

    /// That every corner is a place on the map: beyond its edges one place would have two nodes.
    fn check(&self, section: &Section<'_>) -> Result<(), Damage> {
        let (east, north) = (self.columns.count - 1, self.rows.count - 1);
        for (column, row) in [(0, 0), (east, 0), (0, north), (east, north)] {
            let [x, y] = [self.columns.at(column), self.rows.at(row)];
            let near = x.abs() <= WIDEST && y.abs() <= WIDEST;
            let [again_x, again_y] = self.cone.project(self.place_of(column, row));
            if !near || (again_x - x).hypot(again_y - y) > SLACK {
                let words = format!("column {column}, row {row} lies beyond the edge of its projection");
                return Err(section.contradiction(words));
            }
        }
        Ok(())
    }

    /// Column and row of a place; none outside.
    pub fn locate(&self, place: LatLon) -> Option<(AxisPosition, AxisPosition)> {
        let [x, y] = self.cone.project(place);
        Some((self.columns.along(x)?, self.rows.along(y)?))
    }

    /// Where a node lies.
    pub fn place_of(&self, column: u32, row: u32) -> LatLon {
        self.cone.place([self.columns.at(column), self.rows.at(row)])
    }

    /// Degrees from true east to x, counter-clockwise, at a node.
    pub fn rotation(&self, column: u32, row: u32) -> f64 {
        self.cone.rotation(self.place_of(column, row).lon)
    }
}

fn centre(section: &Section<'_>) -> Result<u8, Damage> {
    let centre = section.u8(64)?;
    if centre & BIPOLAR != 0 {
        return Err(unsupported(section, "a bipolar projection"));
    }
    Ok(centre)
}
