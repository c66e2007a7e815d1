//! Simple packing (template 5.0, data template 7.0): the value at position i begins at bit i times its width. And IEEE floating
//! point (template 5.4): 32 or 64 bits each, as they are (code table 5.7).

use super::Scaling;
use super::bits::Bits;
use crate::Damage;
use crate::sections::{FieldSections, Section};
use forecast::Sample;

/// The values at these positions, each where it stands; nothing else is read.
pub(super) fn values(
    section: &Section<'_>,
    (bits, count): (u8, usize),
    wanted: &[usize],
    scaling: &Scaling,
) -> Result<Vec<Sample>, Damage> {
    let data = section.rest(6);
    check(section, data, u64::from(bits), count)?;
    let (data, width) = (Bits(data), u32::from(bits));
    let packed = |position: &usize| data.number(*position as u64 * u64::from(width), width);
    let value = |position| Ok(scaling.value_of(packed(position) as f64));
    super::finite(section, wanted.iter().map(value).collect())
}

/// The values of template 5.4.
pub(super) fn ieee_values(
    field: &FieldSections<'_>,
    count: usize,
    wanted: &[usize],
) -> Result<Vec<Sample>, Damage> {
    let (section, data) = (&field.data, field.data.rest(6));
    let width: u8 = match field.representation.u8(12)? {
        1 => 32,
        2 => 64,
        other => {
            let words = format!("floating point numbers of precision {other} (code table 5.7)");
            return Err(field
                .representation
                .damage(crate::Fault::UnsupportedFeature(words)));
        }
    };
    check(section, data, width.into(), count)?;
    let data = Bits(data);
    let value = |position: &usize| {
        let from = *position as u64 * u64::from(width);
        match width {
            32 => f32::from_bits(data.number(from, 32) as u32),
            // Whole octets: the window holds all 64 bits.
            _ => f64::from_bits(data.window(from)) as f32,
        }
    };
    super::finite(
        section,
        wanted.iter().map(|position| Ok(value(position))).collect(),
    )
}

fn check(section: &Section<'_>, data: &[u8], bits: u64, count: usize) -> Result<(), Damage> {
    let needed = (count as u64 * bits).div_ceil(8);
    if (data.len() as u64) < needed {
        let words = format!(
            "{} octets of data, {count} values of {bits} bits need {needed}",
            data.len()
        );
        return Err(section.contradiction(words));
    }
    Ok(())
}
