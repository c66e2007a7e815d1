//! Sections 5 and 7: packed values into values, of the wanted positions alone where the packing lets it.
//!
//! Owns: the checks of data representation templates 5.0, 5.2, 5.3, 5.4, 5.40, 5.41 and 5.42, and which room reads which. Must not
//! know: grids, bitmaps (positions here are positions among the packed values).

mod bits;
mod ccsds;
mod complex;
mod jpeg2000;
mod library;
mod simple;

use crate::sections::{FieldSections, Section};
use crate::{Damage, Fault, png_packing};
use forecast::Sample;

/// The templates that are read.
const TEMPLATES: [u16; 7] = [0, 2, 3, 4, 40, 41, 42];
/// The number of the octet that holds the type of original field values (code table 5.1).
const ORIGINAL_TYPE: usize = 21;
/// Widest packed integer of simple, JPEG 2000, PNG and CCSDS packing.
const WIDEST: u8 = 32;

/// How packed integers become values: (R + X 2^E) / 10^D (regulation 92.9.4), in double precision, rounded once.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Scaling {
    reference: f64,
    binary: f64,
    /// 10 to the power of D's magnitude.
    decimal: f64,
    divides: bool,
}

impl Scaling {
    fn read(section: &Section<'_>) -> Result<Self, Damage> {
        let (reference, binary, decimal) = (section.f32(12)?, section.signed_16(16)?, section.signed_16(18)?);
        if !reference.is_finite() {
            return Err(section.contradiction("the reference value is no number"));
        }
        Ok(Self {
            reference: reference.into(),
            binary: 2_f64.powi(binary),
            decimal: 10_f64.powi(decimal.abs()),
            divides: decimal >= 0,
        })
    }

    /// The value of a packed whole number.
    #[inline]
    pub fn value_of(&self, packed: f64) -> f32 {
        let scaled = self.reference + packed * self.binary;
        (if self.divides {
            scaled / self.decimal
        } else {
            scaled * self.decimal
        }) as f32
    }

    /// The value of a field without packed integers. By the regulation the reference value is divided by 10^D like any
    /// other. Encoders in use write it undivided where zero bits a value say that the field is constant, and readers
    /// take it so; only without groups do they divide. Read as they do, or a swell of 0.42 m would be one of 4 mm.
    fn constant(&self, template: u16) -> f32 {
        match template {
            2 | 3 => self.value_of(0.0),
            _ => self.reference as f32,
        }
    }

    /// Double precision holds the factors within these bounds, and no quantity needs others.
    fn check(section: &Section<'_>) -> Result<(), Damage> {
        let (binary, decimal) = (section.signed_16(16)?, section.signed_16(18)?);
        if binary.abs() > 126 || decimal.abs() > 37 {
            let words = format!("implausible scale factors (binary {binary}, decimal {decimal})");
            return Err(section.contradiction(words));
        }
        Ok(())
    }
}

/// True where what is wanted and the octets at hand bound memory and time: all but PNG images (5.41), and JPEG 2000 images (5.40) that are
/// very large or read by the `grib` crate.
pub(crate) fn unpacks_in_bounds(field: &FieldSections<'_>) -> bool {
    match field.representation.u16(10) {
        Ok(40) => jpeg2000::unpacks_in_bounds(field),
        template => template != Ok(41),
    }
}

/// Why a field packed like this is not read, if so.
pub(crate) fn refusal(section: &Section<'_>) -> Option<Damage> {
    match section.u16(10) {
        Ok(template) if TEMPLATES.contains(&template) => None,
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
    let read = match Packed::read(field)? {
        Packed::Ieee => return simple::ieee_values(field, count, wanted),
        Packed::Constant(value) => return Ok(vec![Ok(value); wanted.len()]),
        Packed::Integers(read) => read,
    };
    let Integers {
        template,
        bits,
        scaling,
    } = read;
    match template {
        0 => simple::values(&field.data, (bits, count), wanted, &scaling),
        2 | 3 => complex::values(field, (bits, count), template == 3, wanted, &scaling),
        41 => png_packing::values(field.data.rest(6), count, wanted, &scaling)
            .map_err(|why| undecodable(field, why)),
        42 => ccsds::values(field, (bits, count), wanted, &scaling),
        _ => jpeg2000::values(field, count, wanted, &scaling),
    }
}

/// The same by the `grib` crate, which decodes everything before the last of them: for comparisons. Templates 5.4 and 5.41 it reads
/// otherwise than is meant, and these are read here alone.
pub(crate) fn unpack_by_library(
    field: &FieldSections<'_>,
    count: usize,
    wanted: &[usize],
) -> Result<Vec<Sample>, Damage> {
    match Packed::read(field)? {
        Packed::Integers(Integers {
            template: template @ (0 | 2 | 3 | 40 | 42),
            ..
        }) => {
            // What this room refuses is never handed on; one value is enough to have every count looked at.
            unpack(field, count, wanted.get(..1).unwrap_or_default())?;
            library::values(field, template, wanted)
        }
        _ => unpack(field, count, wanted),
    }
}

/// What section 5 says of the values.
enum Packed {
    Ieee,
    Constant(f32),
    Integers(Integers),
}

/// Packed whole numbers.
struct Integers {
    template: u16,
    bits: u8,
    scaling: Scaling,
}

impl Packed {
    fn read(field: &FieldSections<'_>) -> Result<Self, Damage> {
        let section = &field.representation;
        if let Some(refusal) = refusal(section) {
            return Err(refusal);
        }
        let template = section.u16(10)?;
        if template == 4 {
            return Ok(Self::Ieee);
        }
        let (bits, scaling) = (section.u8(20)?, Scaling::read(section)?);
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
            let value = scaling.constant(template);
            return match value.is_finite() {
                true => Ok(Self::Constant(value)),
                false => Err(section.contradiction("the constant value is out of range")),
            };
        }
        Scaling::check(section)?;
        Ok(Self::Integers(Integers {
            template,
            bits,
            scaling,
        }))
    }
}

fn undecodable(field: &FieldSections<'_>, why: String) -> Damage {
    field.data.damage(Fault::Undecodable(why))
}

/// Values that are all numbers: looked at together, which costs less than one by one.
fn finite(section: &Section<'_>, values: Vec<Sample>) -> Result<Vec<Sample>, Damage> {
    if values.iter().flatten().all(|value| value.is_finite()) {
        Ok(values)
    } else {
        Err(section.damage(Fault::Undecodable("a value is no number".to_owned())))
    }
}
