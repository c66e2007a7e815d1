//! What the grid templates of section 3 share: angles and their unit, counts of points, flags.
//!
//! WMO FM 92 GRIB edition 2: templates 3.0, 3.1, 3.10, 3.20, 3.30 and 3.40, flag tables 3.3 and 3.4.
//! Must not know: what a template makes of its angles.

use crate::axis::Axis;
use crate::sections::Section;
use crate::{Damage, Fault, MOST_POINTS};

/// Angles are stored in millionths of a degree.
pub(crate) const MILLIONTH: f64 = 1.0e-6;
/// Flag table 3.3: increments along a parallel are given.
pub(crate) const COLUMN_STEP_GIVEN: u8 = 0x20;
/// Flag table 3.3: increments along a meridian are given.
pub(crate) const ROW_STEP_GIVEN: u8 = 0x10;
/// Flag table 3.3, bit 5: u and v are along the grid's x and y.
pub(crate) const VECTORS_FOLLOW_GRID: u8 = 0x08;
/// Flag table 3.4: columns run from east to west.
pub(crate) const COLUMNS_RUN_WEST: u8 = 0x80;
/// Flag table 3.4: rows run from south to north.
pub(crate) const ROWS_RUN_NORTH: u8 = 0x40;
/// Flag table 3.4: adjacent points of a column are consecutive.
pub(crate) const COLUMN_BY_COLUMN: u8 = 0x20;
/// Flag table 3.4: every second row (or column) is stored backwards.
pub(crate) const ALTERNATING: u8 = 0x10;
/// Flag table 3.4: staggered points or rows of other lengths.
const STAGGERED: u8 = 0x0f;

/// An error for what is not read of this section's template.
pub(crate) fn unsupported(section: &Section<'_>, what: &str) -> Damage {
    let template = section.u16(13).unwrap_or_default();
    section.damage(Fault::UnsupportedFeature(format!(
        "template 3.{template} with {what}"
    )))
}

/// Columns and rows (octets 31 and 35), which must be all the points there are.
pub(crate) fn counts(section: &Section<'_>) -> Result<(u32, u32), Damage> {
    let (columns, rows, stated) = (section.u32(31)?, section.u32(35)?, section.u32(7)?);
    if section.u8(11)? != 0 || columns == u32::MAX || rows == u32::MAX {
        return Err(unsupported(section, "rows of unequal length"));
    }
    let product = u64::from(columns) * u64::from(rows);
    if product == 0 || product > MOST_POINTS {
        let words =
            format!("implausible grid of {columns} by {rows} points (at most {MOST_POINTS} are read)");
        return Err(section.contradiction(words));
    }
    if product != u64::from(stated) {
        let words = format!("{columns} columns by {rows} rows are not the {stated} points it states");
        return Err(section.contradiction(words));
    }
    Ok((columns, rows))
}

/// The scanning mode at this octet.
pub(crate) fn scanning_mode(section: &Section<'_>, octet: usize) -> Result<u8, Damage> {
    let scanning = section.u8(octet)?;
    if scanning & STAGGERED != 0 {
        return Err(unsupported(section, "staggered points"));
    }
    Ok(scanning)
}

/// Degrees of one unit of the stored angles: millionths unless a basic angle (octets 39 to 46) says otherwise.
pub(crate) fn coordinate_unit(section: &Section<'_>) -> Result<f64, Damage> {
    let (basic, parts) = (section.u32(39)?, section.u32(43)?);
    if basic == 0 || basic == u32::MAX {
        return Ok(MILLIONTH);
    }
    if parts == 0 || parts == u32::MAX {
        return Err(section.contradiction("a basic angle without its subdivisions"));
    }
    Ok(f64::from(basic) / f64::from(parts))
}

/// A latitude in degrees.
pub(crate) fn latitude(section: &Section<'_>, octet: usize, unit: f64) -> Result<f64, Damage> {
    let degrees = scaled(f64::from(section.signed_32(octet)?), unit);
    if (-90.0..=90.0).contains(&degrees) {
        Ok(degrees)
    } else {
        Err(section.contradiction(format!("latitude {degrees} is none")))
    }
}

/// A longitude in degrees.
pub(crate) fn longitude(section: &Section<'_>, octet: usize, unit: f64) -> Result<f64, Damage> {
    let degrees = scaled(f64::from(section.signed_32(octet)?), unit);
    if (-720.0..=720.0).contains(&degrees) {
        Ok(degrees)
    } else {
        Err(section.contradiction(format!("longitude {degrees} is none")))
    }
}

/// Millionths are divided, not multiplied, so that 46000000 is 46 exactly.
fn scaled(stored: f64, unit: f64) -> f64 {
    if unit == MILLIONTH {
        stored / 1.0e6
    } else {
        stored * unit
    }
}

/// An increment in degrees where one is given.
pub(crate) fn stated_step(
    section: &Section<'_>,
    given: bool,
    octet: usize,
    unit: f64,
) -> Result<Option<f64>, Damage> {
    let stored = section.u32(octet)?;
    Ok((given && stored != u32::MAX && stored != 0).then(|| scaled(f64::from(stored), unit)))
}

/// An increment in metres, stored in thousandths.
pub(crate) fn metres(section: &Section<'_>, octet: usize) -> Result<f64, Damage> {
    match section.u32(octet)? {
        0 | u32::MAX => Err(section.contradiction("a grid length of no metres")),
        thousandths => Ok(f64::from(thousandths) / 1000.0),
    }
}

/// The longitudes of columns that run from the first to the last, in the direction of the scanning mode.
pub(crate) fn column_axis(
    section: &Section<'_>,
    (first, last): (f64, f64),
    count: u32,
    stated: Option<f64>,
    scanning: u8,
) -> Result<Axis, Damage> {
    let west = scanning & COLUMNS_RUN_WEST != 0;
    let width = if west { first - last } else { last - first };
    let width = turn_that_fits(width.rem_euclid(360.0), count, stated);
    let (step, slack) = even_step(section, width, count, stated)?;
    Ok(Axis {
        first,
        step: if west { -step } else { step },
        slack,
        count,
        wraps: count > 1 && (width + step - 360.0).abs() < step / 2.0,
    })
}

/// The latitudes of rows that run from the first to the last, in the direction of the scanning mode.
pub(crate) fn row_axis(
    section: &Section<'_>,
    (first, last): (f64, f64),
    count: u32,
    stated: Option<f64>,
    scanning: u8,
) -> Result<Axis, Damage> {
    let north = runs_north(section, (first, last), scanning)?;
    let (step, slack) = even_step(section, (last - first).abs(), count, stated)?;
    Ok(Axis {
        first,
        step: if north { step } else { -step },
        slack,
        count,
        wraps: false,
    })
}

/// Whether rows run north, which the scanning mode and the corners must agree on.
pub(crate) fn runs_north(
    section: &Section<'_>,
    (first, last): (f64, f64),
    scanning: u8,
) -> Result<bool, Damage> {
    let north = scanning & ROWS_RUN_NORTH != 0;
    if (north && last < first) || (!north && last > first) {
        return Err(section.contradiction("rows run the other way than the scanning mode says"));
    }
    Ok(north)
}

/// Columns may go once round the Earth and end on the meridian they began at: only the stated step tells 0 from 360.
fn turn_that_fits(width: f64, columns: u32, stated: Option<f64>) -> f64 {
    let stated_width = stated.map_or(360.0, |step| step * f64::from(columns.saturating_sub(1)));
    if columns > 1 && width < MILLIONTH && stated_width > 180.0 {
        360.0
    } else {
        width
    }
}

/// Degrees from node to node, from the corners, which are exact where a stated step is rounded; both have to agree.
///
/// With it comes how far the message itself leaves open where a node lies: a millionth of a degree, and for a step of
/// 0.166667 degrees the rounding summed over all rows, but never more than a thousandth of a cell.
fn even_step(
    section: &Section<'_>,
    extent: f64,
    count: u32,
    stated: Option<f64>,
) -> Result<(f64, f64), Damage> {
    if count == 1 {
        return Ok((stated.unwrap_or(1.0), MILLIONTH));
    }
    let gaps = f64::from(count - 1);
    let step = extent / gaps;
    if step < 10.0 * MILLIONTH {
        return Err(section.contradiction(format!("{count} points within {extent} degrees are no grid")));
    }
    let stated = stated.unwrap_or(step);
    let rounding = (stated * gaps - extent).abs();
    // A tenth of a cell at the far corner is more than rounding to millionths makes on any real grid.
    if rounding > step / 10.0 {
        let words = format!("the stated step of {stated} degrees and the corners ({step} degrees) disagree");
        return Err(section.contradiction(words));
    }
    Ok((step, MILLIONTH + rounding.min(step / 1000.0)))
}
