//! Sections 5 and 7: packed values into values, on the `grib` crate, behind checks of every count it would trust.
//!
//! Owns: the checks of data representation templates 5.0, 5.2, 5.3, 5.40, 5.41 and 5.42, and the boundary that turns a
//! decoder's panic into damage. Must not know: grids, bitmaps (positions here are positions among the packed values).

mod complex;
mod jpeg2000;

use crate::sections::{FieldSections, Section};
use crate::{Damage, Fault, png_packing};
use forecast::{Gap, Sample};
use std::panic::{AssertUnwindSafe, catch_unwind};

/// The templates that are read, with the octets of section 5 that the `grib` crate is given of each.
const TEMPLATES: [(u16, usize); 6] = [(0, 21), (2, 47), (3, 49), (40, 23), (41, 21), (42, 25)];
/// The number of the octet that holds the type of original field values (code table 5.1).
const ORIGINAL_TYPE: usize = 21;
/// Widest packed integer of simple, JPEG 2000, PNG and CCSDS packing.
const WIDEST: u8 = 32;

/// How packed integers become values: (R + X 2^E) / 10^D (regulation 92.9.4).
#[derive(Clone, Copy, Debug)]
pub(crate) struct Scaling {
    reference: f32,
    binary: i32,
    decimal: i32,
}

impl Scaling {
    fn read(section: &Section<'_>) -> Result<Self, Damage> {
        let scaling = Self {
            reference: section.f32(12)?,
            binary: section.signed_16(16)?,
            decimal: section.signed_16(18)?,
        };
        if !scaling.reference.is_finite() {
            return Err(section.contradiction("the reference value is no number"));
        }
        Ok(scaling)
    }

    /// The value of a packed integer.
    pub fn value(&self, packed: u32) -> f32 {
        let scaled = f64::from(self.reference) + f64::from(packed) * 2_f64.powi(self.binary);
        let decimal = 10_f64.powi(self.decimal.abs());
        (if self.decimal >= 0 {
            scaled / decimal
        } else {
            scaled * decimal
        }) as f32
    }

    /// The value of a field without packed integers. By the regulation the reference value is divided by 10^D like any
    /// other. Encoders in use write it undivided where zero bits a value say that the field is constant, and readers
    /// take it so; only without groups do they divide. Read as they do, or a swell of 0.42 m would be one of 4 mm.
    fn constant(&self, template: u16) -> f32 {
        match template {
            2 | 3 => self.value(0),
            _ => self.reference,
        }
    }

    /// Single precision, in which the `grib` crate computes, holds the factors only within these bounds.
    fn check(&self, section: &Section<'_>) -> Result<(), Damage> {
        if self.binary.abs() > 126 || self.decimal.abs() > 37 {
            let words = format!(
                "implausible scale factors (binary {}, decimal {})",
                self.binary, self.decimal
            );
            return Err(section.contradiction(words));
        }
        Ok(())
    }
}

/// Why a field packed like this is not read, if so.
pub(crate) fn refusal(section: &Section<'_>) -> Option<Damage> {
    match section.u16(10) {
        Ok(template) if TEMPLATES.iter().any(|(known, _)| *known == template) => None,
        Ok(template) => Some(section.damage(Fault::Unsupported { table: 5, template })),
        Err(damage) => Some(damage),
    }
}

/// The values at these ascending positions among the `count` packed values.
pub(crate) fn unpack(
    field: &FieldSections<'_>,
    count: usize,
    wanted: &[usize],
) -> Result<Vec<Sample>, Damage> {
    let section = &field.representation;
    if let Some(refusal) = refusal(section) {
        return Err(refusal);
    }
    let (template, bits, scaling) = (section.u16(10)?, section.u8(20)?, Scaling::read(section)?);
    let kind = section.u8(ORIGINAL_TYPE)?;
    if kind > 1 {
        let words = format!("type {kind} of original field values (code table 5.1)");
        return Err(section.damage(Fault::UnsupportedFeature(words)));
    }
    if bits > WIDEST {
        return Err(section.contradiction(format!("{bits} bits a value")));
    }
    let is_constant = match template {
        2 | 3 => complex::is_constant(section)?,
        _ => bits == 0,
    };
    if is_constant {
        return constant(section, scaling.constant(template), wanted.len());
    }
    scaling.check(section)?;
    let data = field.data.rest(6);
    match template {
        0 => check_simple(&field.data, data, bits, count)?,
        2 | 3 => complex::check(field, bits, template == 3, count)?,
        40 => jpeg2000::check(&field.data, data, count)?,
        41 => {
            return png_packing::values(data, count, wanted, &scaling).map_err(|why| undecodable(field, why));
        }
        _ => check_ccsds(section)?,
    }
    let values = decode(field, template, wanted).map_err(|why| undecodable(field, why))?;
    let may_be_missing = matches!(template, 2 | 3) && complex::manages_missing(section)?;
    values
        .into_iter()
        .map(|value| sample(field, value, may_be_missing))
        .collect()
}

fn undecodable(field: &FieldSections<'_>, why: String) -> Damage {
    field.data.damage(Fault::Undecodable(why))
}

fn constant(section: &Section<'_>, value: f32, values: usize) -> Result<Vec<Sample>, Damage> {
    if value.is_finite() {
        Ok(vec![Ok(value); values])
    } else {
        Err(section.contradiction("the constant value is out of range"))
    }
}

fn sample(field: &FieldSections<'_>, value: f32, may_be_missing: bool) -> Result<Sample, Damage> {
    if value.is_finite() {
        Ok(Ok(value))
    } else if value.is_nan() && may_be_missing {
        Ok(Err(Gap::Masked))
    } else {
        Err(undecodable(field, "a value is no number".to_owned()))
    }
}

fn check_simple(section: &Section<'_>, data: &[u8], bits: u8, count: usize) -> Result<(), Damage> {
    let needed = (count as u64 * u64::from(bits)).div_ceil(8);
    if (data.len() as u64) < needed {
        let words = format!(
            "{} octets of data, {count} values of {bits} bits need {needed}",
            data.len()
        );
        return Err(section.contradiction(words));
    }
    Ok(())
}

fn check_ccsds(section: &Section<'_>) -> Result<(), Damage> {
    let (flags, block, interval) = (section.u8(22)?, section.u8(23)?, section.u16(24)?);
    if flags & 0x01 != 0 {
        return Err(section.damage(Fault::UnsupportedFeature(
            "CCSDS packing of signed integers".to_owned(),
        )));
    }
    if !matches!(block, 8 | 16 | 32 | 64) || !(1..=4096).contains(&interval) {
        let words = format!("CCSDS blocks of {block} values and intervals of {interval} blocks do not exist");
        return Err(section.contradiction(words));
    }
    Ok(())
}

/// Section 5 for the `grib` crate: as in the message, but for what the crate would read otherwise than is meant.
fn representation_for_decoder(
    section: &Section<'_>,
    template: u16,
    values: usize,
) -> Result<Vec<u8>, String> {
    let length = TEMPLATES
        .iter()
        .find(|(known, _)| *known == template)
        .map_or(0, |(_, length)| *length);
    let mut octets = section
        .bytes
        .get(..length)
        .ok_or("section 5 is too short for its template")?
        .to_vec();
    octets[..4].copy_from_slice(&(length as u32).to_be_bytes());
    octets[5..9].copy_from_slice(&(values as u32).to_be_bytes());
    // Whether values were integers before packing does not change how they are packed; the crate refuses it.
    octets[ORIGINAL_TYPE - 1] = 0;
    if template == 42 {
        // The order of octets in the decoder's output is the reader's choice (libaec's flags 3BYTE and MSB), whatever
        // the producer's encoder used; the crate reads the shortest big-endian integers.
        octets[21] |= 0x02 | 0x04;
    }
    Ok(octets)
}

/// Runs the `grib` crate up to the last wanted position. Its panics end here.
fn decode(field: &FieldSections<'_>, template: u16, wanted: &[usize]) -> Result<Vec<f32>, String> {
    let Some(last) = wanted.last() else {
        return Ok(Vec::new());
    };
    let values = last + 1;
    let representation = representation_for_decoder(&field.representation, template, values)?;
    let no_bitmap = vec![0, 0, 0, 6, 6, 255];
    let data = field.data.bytes.to_vec();
    let run = move || {
        let decoder = grib::Grib2SubmessageDecoder::new(values, representation, no_bitmap, data);
        let decoder = decoder.map_err(|error| error.to_string())?;
        pick(decoder.dispatch().map_err(|error| error.to_string())?, wanted)
    };
    catch_unwind(AssertUnwindSafe(run)).unwrap_or_else(|_| Err("the decoder gave up".to_owned()))
}

fn pick(values: impl Iterator<Item = f32>, wanted: &[usize]) -> Result<Vec<f32>, String> {
    let (mut picked, mut values, mut passed) = (Vec::with_capacity(wanted.len()), values, 0);
    for &position in wanted {
        let value = values
            .nth(position - passed)
            .ok_or("there are fewer values than promised")?;
        picked.push(value);
        passed = position + 1;
    }
    Ok(picked)
}

#[cfg(test)]
mod tests {
    use super::pick;

    #[test]
    fn nothing_is_unpacked_past_the_last_wanted_value() {
        let unpacked = (0..100u8).map(|value| {
            assert!(value <= 7, "value {value} was asked for");
            f32::from(value)
        });
        assert_eq!(pick(unpacked, &[2, 7]), Ok(vec![2.0, 7.0]));
    }

    #[test]
    fn a_field_that_ends_early_is_told() {
        assert!(pick([1.0].into_iter(), &[1]).is_err());
    }
}
