//! Gaussian parallels (template 3.40): the latitudes whose sines are the roots of a Legendre polynomial.
//!
//! Octets: as 3.0 up to 67, then 68 N, parallels between a pole and the equator, 72 scanning mode. Rows may be a part of
//! the 2 N parallels. The corners are stored rounded (to a thousandth of a degree by some), so they only tell which
//! parallels are meant. Must not know: columns.

use crate::Damage;
use crate::axis::AxisPosition;
use crate::grid_octets::{coordinate_unit, latitude, runs_north};
use crate::sections::Section;
use serde::{Deserialize, Serialize};
use std::f64::consts::PI;
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

/// The most parallels between a pole and the equator; a global model of 3 km has some 3,000.
const MOST_PARALLELS: u32 = 4096;
/// A place nearer than this to a parallel is on it, degrees.
const SLACK: f64 = 1.0e-6;
/// The first guess is good to 1e-5 or better and each step doubles its digits.
const MOST_ITERATIONS: u32 = 10;

/// Rows on consecutive Gaussian parallels.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(crate) struct GaussianRows {
    /// N: parallels between a pole and the equator.
    parallels: u32,
    /// Which parallel the first row lies on, from the north, from 0.
    first: u32,
    rows: u32,
    north: bool,
    /// Latitudes of the rows; found when a place is first asked for.
    #[serde(skip)]
    latitudes: OnceLock<Arc<[f64]>>,
}

impl PartialEq for GaussianRows {
    fn eq(&self, other: &Self) -> bool {
        (self.parallels, self.first, self.rows, self.north)
            == (other.parallels, other.first, other.rows, other.north)
    }
}

impl GaussianRows {
    /// Reads the rows of template 3.40.
    ///
    /// # Errors
    /// Corners that are on no Gaussian parallels, or not so many rows apart.
    pub fn read(section: &Section<'_>, rows: u32, scanning: u8) -> Result<Self, Damage> {
        let (parallels, unit) = (section.u32(68)?, coordinate_unit(section)?);
        let corners = (latitude(section, 47, unit)?, latitude(section, 56, unit)?);
        if parallels == 0 || parallels > MOST_PARALLELS {
            let words =
                format!("{parallels} parallels from pole to equator (at most {MOST_PARALLELS} are read)");
            return Err(section.contradiction(words));
        }
        let north = rows > 1 && runs_north(section, corners, scanning)?;
        let (first, last) = (
            parallel_of(section, parallels, corners.0)?,
            parallel_of(section, parallels, corners.1)?,
        );
        if first.abs_diff(last) != rows - 1 {
            let words = format!("{rows} rows between the parallels {first} and {last} of {parallels}");
            return Err(section.contradiction(words));
        }
        Ok(Self {
            parallels,
            first,
            rows,
            north,
            latitudes: OnceLock::new(),
        })
    }

    /// Latitude of a row, degrees.
    pub fn latitude_of(&self, row: u32) -> f64 {
        self.latitudes().get(row as usize).copied().unwrap_or_default()
    }

    /// Position of a latitude among the rows; none beyond the first and the last.
    pub fn locate(&self, latitude: f64) -> Option<AxisPosition> {
        let latitudes = self.latitudes();
        let sign = if self.north { 1.0 } else { -1.0 };
        let along = |value: f64| value * sign;
        let beyond = latitudes.partition_point(|row| along(*row) <= along(latitude) + SLACK);
        let position = |index: usize, fraction| {
            Some(AxisPosition {
                index: index as u32,
                fraction,
            })
        };
        let before = beyond.checked_sub(1);
        match (before, latitudes.get(beyond)) {
            (Some(before), _) if (latitudes[before] - latitude).abs() <= SLACK => position(before, 0.0),
            (Some(before), Some(next)) => {
                let start = latitudes[before];
                position(before, (latitude - start) / (next - start))
            }
            _ => None,
        }
    }

    fn latitudes(&self) -> &[f64] {
        self.latitudes.get_or_init(|| kept_or_found(self))
    }

    fn find(&self) -> Arc<[f64]> {
        let of_row = |row| match self.north {
            true => self.first - row,
            false => self.first + row,
        };
        let rows = 0..self.rows;
        rows.map(|row| gaussian_latitude(self.parallels, of_row(row)))
            .collect()
    }
}

/// The parallel that a stored latitude means: it must lie within a tenth of their spacing.
fn parallel_of(section: &Section<'_>, parallels: u32, stored: f64) -> Result<u32, Damage> {
    let spacing = 180.0 / (2.0 * f64::from(parallels) + 0.5);
    // The parallels are very nearly even: from the north the k-th lies (k + 3/4) spacings from the pole.
    let index = ((90.0 - stored) / spacing - 0.75)
        .round()
        .clamp(0.0, f64::from(2 * parallels - 1)) as u32;
    let latitude = first_guess(parallels, index).asin().to_degrees();
    if (latitude - stored).abs() > spacing / 10.0 {
        let words = format!("latitude {stored} is none of the {} Gaussian ones", 2 * parallels);
        return Err(section.contradiction(words));
    }
    Ok(index)
}

/// The latitudes of these rows. Those asked for last are kept, as every message of a run has the same grid and each one's definition is read
/// anew; finding some hundred of them takes longer than reading a message's values.
fn kept_or_found(rows: &GaussianRows) -> Arc<[f64]> {
    static LAST: Mutex<Option<(GaussianRows, Arc<[f64]>)>> = Mutex::new(None);
    let mut last = LAST.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some((_, latitudes)) = last.as_ref().filter(|(of, _)| of == rows) {
        return Arc::clone(latitudes);
    }
    let latitudes = rows.find();
    *last = Some((rows.clone(), Arc::clone(&latitudes)));
    latitudes
}

/// Latitude in degrees of one of the 2 N Gaussian parallels, counted from the north from 0; 0 for what is none.
///
/// Newton's method on the Legendre polynomial of degree 2 N (recurrence and derivative: Abramowitz and Stegun, 8.5.3 and
/// 8.5.4, from memory).
pub fn gaussian_latitude(parallels: u32, index: u32) -> f64 {
    let degree = 2 * parallels;
    if index >= degree {
        return 0.0;
    }
    if index >= parallels {
        return -gaussian_latitude(parallels, degree - 1 - index);
    }
    let mut root = first_guess(parallels, index);
    for _ in 0..MOST_ITERATIONS {
        let (value, slope) = legendre(degree, root);
        let step = value / slope;
        root -= step;
        if step.abs() < 1.0e-15 {
            break;
        }
    }
    root.asin().to_degrees()
}

/// Tricomi's estimate of a root (from memory; what Newton's method makes of it does not depend on its last digits).
fn first_guess(parallels: u32, index: u32) -> f64 {
    let degree = 2.0 * f64::from(parallels);
    let angle = PI * (4.0 * f64::from(index) + 3.0) / (4.0 * degree + 2.0);
    let third_order = (degree - 1.0) / (8.0 * degree.powi(3));
    let fourth_order = (39.0 - 28.0 / angle.sin().powi(2)) / (384.0 * degree.powi(4));
    (1.0 - third_order - fourth_order) * angle.cos()
}

/// The Legendre polynomial of a degree and its derivative, inside -1 to 1.
fn legendre(degree: u32, at: f64) -> (f64, f64) {
    let (mut before, mut value) = (1.0, at);
    for n in 1..degree {
        let n = f64::from(n);
        let next = ((2.0 * n + 1.0) * at * value - n * before) / (n + 1.0);
        (before, value) = (value, next);
    }
    let slope = f64::from(degree) * (at * value - before) / (at * at - 1.0);
    (value, slope)
}
