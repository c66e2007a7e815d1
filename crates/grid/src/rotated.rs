//! Latitudes and longitudes of a sphere turned so that its south pole lies elsewhere (template 3.1).
//!
//! Octets: as 3.0 up to 72, then 73 latitude and 77 longitude of the southern pole, 81 angle of rotation.
//! Formulas: plane geometry of two rotations, about the east-west axis and about the Earth's. Must not know: rows, columns.

use crate::Damage;
use crate::grid_octets::{MILLIONTH, latitude, longitude, unsupported};
use crate::sections::Section;
use seaway::LatLon;
use serde::{Deserialize, Serialize};

/// The turned sphere.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct TurnedSphere {
    /// How far the place at 0 N, 0 E of the turned sphere lies north, radians.
    tilt: f64,
    /// Its meridian, radians east.
    meridian: f64,
}

impl TurnedSphere {
    /// Reads octets 73 to 84.
    ///
    /// # Errors
    /// Unsupported where the sphere is turned about its new pole too.
    pub fn read(section: &Section<'_>) -> Result<Self, Damage> {
        let (south, meridian) = (
            latitude(section, 73, MILLIONTH)?,
            longitude(section, 77, MILLIONTH)?,
        );
        if section.f32(81)? != 0.0 {
            return Err(unsupported(section, "an angle of rotation"));
        }
        Ok(Self {
            tilt: (90.0 + south).to_radians(),
            meridian: meridian.to_radians(),
        })
    }

    /// The place on the Earth of a turned latitude and longitude.
    pub fn on_earth(self, turned: LatLon) -> LatLon {
        place(self.to_earth_axes(direction(turned)))
    }

    /// The turned latitude and longitude of a place on the Earth.
    pub fn turned(self, at: LatLon) -> LatLon {
        let [x, y, z] = direction(at);
        let (sin, cos) = self.meridian.sin_cos();
        let [x, y] = [cos * x + sin * y, cos * y - sin * x];
        let (sin, cos) = self.tilt.sin_cos();
        place([cos * x + sin * z, y, cos * z - sin * x])
    }

    /// Degrees from true east to turned east, counter-clockwise, at a turned latitude and longitude.
    pub fn rotation(self, turned: LatLon) -> f64 {
        let longitude = turned.lon.to_radians();
        let turned_east = self.to_earth_axes([-longitude.sin(), longitude.cos(), 0.0]);
        let at = self.on_earth(turned);
        let (lat, lon) = (at.lat.to_radians(), at.lon.to_radians());
        let east = [-lon.sin(), lon.cos(), 0.0];
        let north = [-lat.sin() * lon.cos(), -lat.sin() * lon.sin(), lat.cos()];
        dot(turned_east, north).atan2(dot(turned_east, east)).to_degrees()
    }

    fn to_earth_axes(self, [x, y, z]: [f64; 3]) -> [f64; 3] {
        let (sin, cos) = self.tilt.sin_cos();
        let [x, z] = [cos * x - sin * z, sin * x + cos * z];
        let (sin, cos) = self.meridian.sin_cos();
        [cos * x - sin * y, sin * x + cos * y, z]
    }
}

fn direction(at: LatLon) -> [f64; 3] {
    let (lat, lon) = (at.lat.to_radians(), at.lon.to_radians());
    [lat.cos() * lon.cos(), lat.cos() * lon.sin(), lat.sin()]
}

fn place([x, y, z]: [f64; 3]) -> LatLon {
    LatLon {
        // Keeps its digits near the poles, where the arc sine of z would not.
        lat: z.atan2(x.hypot(y)).to_degrees(),
        lon: y.atan2(x).to_degrees(),
    }
}

fn dot(a: [f64; 3], b: [f64; 3]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}
