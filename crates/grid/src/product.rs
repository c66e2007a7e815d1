//! Section 4: which quantity, at which level, for which time and member (WMO product definition templates).
//!
//! Owns: the octets of the templates that are read here. Must not know: what a quantity is used for.

use crate::sections::Section;
use crate::{Damage, Fault};
use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use forecast::{Interval, Member, Process};

/// What section 4 says, with the reference time of section 1.
pub(crate) struct Product {
    pub template: u16,
    pub category: u8,
    pub number: u8,
    pub surface: u8,
    pub level: Option<f64>,
    pub second_surface: u8,
    pub second_level: Option<f64>,
    pub valid: DateTime<Utc>,
    pub interval: Option<Interval>,
    pub ensemble_type: Option<u8>,
    pub member: Option<Member>,
}

/// Where the parts of a product definition template begin, as octet numbers of section 4.
struct Layout {
    /// Unit of forecast time (code table 4.4); the time, surfaces and levels follow it.
    time: usize,
    /// Type of ensemble forecast, followed by the member's number.
    ensemble: Option<usize>,
    /// End of the overall interval, followed by the time ranges.
    interval: Option<usize>,
}

impl Layout {
    /// The templates of code table 4.0 that are read. Those without an ensemble octet are of one run,
    /// or derived from all members (4.2, 4.12), or probabilities and percentiles (4.5, 4.6, 4.9, 4.10).
    fn of(template: u16) -> Option<Self> {
        let layout = |time, ensemble, interval| {
            Some(Self {
                time,
                ensemble,
                interval,
            })
        };
        match template {
            0 | 2 | 5 | 6 => layout(18, None, None),
            1 => layout(18, Some(35), None),
            8 => layout(18, None, Some(35)),
            9 => layout(18, None, Some(48)),
            10 => layout(18, None, Some(36)),
            11 => layout(18, Some(35), Some(38)),
            12 => layout(18, None, Some(37)),
            // Waves of a range of periods: eleven octets about the range come first.
            103 => layout(29, None, None),
            _ => None,
        }
    }
}

/// Reads section 4. An unknown template is refused, since its times and members cannot be told.
pub(crate) fn read_product(product: &Section<'_>, reference: DateTime<Utc>) -> Result<Product, Damage> {
    let template = product.u16(8)?;
    let layout =
        Layout::of(template).ok_or_else(|| product.damage(Fault::Unsupported { table: 4, template }))?;
    let start = forecast_instant(product, layout.time, reference)?;
    let interval = layout
        .interval
        .map(|first| read_interval(product, first, start))
        .transpose()?;
    let member = layout.ensemble.map(|first| product.u8(first + 1)).transpose()?;
    Ok(Product {
        template,
        category: product.u8(10)?,
        number: product.u8(11)?,
        surface: product.u8(layout.time + 5)?,
        level: read_level(product, layout.time + 6)?,
        second_surface: product.u8(layout.time + 11)?,
        second_level: read_level(product, layout.time + 12)?,
        valid: interval.map_or(start, |interval| interval.end),
        interval,
        ensemble_type: layout.ensemble.map(|first| product.u8(first)).transpose()?,
        member: member.map(|number| Member(number.into())),
    })
}

/// A level: its scale factor and scaled value; all bits set means there is none.
fn read_level(product: &Section<'_>, first: usize) -> Result<Option<f64>, Damage> {
    if product.u8(first)? == u8::MAX || product.u32(first + 1)? == u32::MAX {
        return Ok(None);
    }
    let (scale, scaled) = (product.signed_8(first)?, product.signed_32(first + 1)?);
    Ok(Some(if scale >= 0 {
        f64::from(scaled) / 10_f64.powi(scale)
    } else {
        f64::from(scaled) * 10_f64.powi(-scale)
    }))
}

/// Reference time plus forecast time: the instant, or the start of the interval.
fn forecast_instant(
    product: &Section<'_>,
    first: usize,
    reference: DateTime<Utc>,
) -> Result<DateTime<Utc>, Damage> {
    let unit = product.u8(first)?;
    let seconds = seconds_of_unit(unit).ok_or_else(|| {
        let words = format!("unit {unit} of forecast time (code table 4.4)");
        product.damage(Fault::UnsupportedFeature(words))
    })?;
    let ahead = TimeDelta::seconds(i64::from(product.signed_32(first + 1)?) * seconds);
    reference
        .checked_add_signed(ahead)
        .ok_or_else(|| product.contradiction("the forecast time is out of range"))
}

/// Code table 4.4, the units of fixed length.
fn seconds_of_unit(unit: u8) -> Option<i64> {
    match unit {
        0 => Some(60),
        1 => Some(3600),
        2 => Some(86_400),
        10 => Some(3 * 3600),
        11 => Some(6 * 3600),
        12 => Some(12 * 3600),
        13 => Some(1),
        _ => None,
    }
}

fn read_interval(product: &Section<'_>, first: usize, start: DateTime<Utc>) -> Result<Interval, Damage> {
    let end = read_instant(product, first)?;
    if end < start {
        return Err(product.contradiction("the interval ends before it starts"));
    }
    if product.u8(first + 7)? == 0 {
        return Err(product.contradiction("an interval without any time range"));
    }
    let process = match product.u8(first + 12)? {
        0 => Process::Mean,
        1 => Process::Accumulation,
        2 => Process::Maximum,
        3 => Process::Minimum,
        other => Process::Other(other),
    };
    Ok(Interval { start, end, process })
}

/// Seven octets: year (two), month, day, hour, minute, second.
pub(crate) fn read_instant(section: &Section<'_>, first: usize) -> Result<DateTime<Utc>, Damage> {
    let part = |after: usize| section.u8(first + after).map(u32::from);
    let (year, month, day) = (section.u16(first)?, part(2)?, part(3)?);
    let (hour, minute, second) = (part(4)?, part(5)?, part(6)?);
    let date = NaiveDate::from_ymd_opt(year.into(), month, day);
    let instant = date.and_then(|date| date.and_hms_opt(hour, minute, second));
    instant.map(|instant| instant.and_utc()).ok_or_else(|| {
        section.contradiction(format!(
            "{year}-{month}-{day} {hour}:{minute}:{second} is no date and time"
        ))
    })
}
