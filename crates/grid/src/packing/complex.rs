//! Checks of complex packing (templates 5.2 and 5.3): group counts, widths and lengths against the octets at hand.
//!
//! Must not know: how groups become values; the `grib` crate does that.

use crate::sections::{FieldSections, Section};
use crate::{Damage, Fault};

/// Widest group reference and group value: sums of two and of a signed minimum stay within 32 bits.
const WIDEST: u64 = 29;

/// Whether the field has no groups at all: then every value is the reference value.
pub(super) fn is_constant(section: &Section<'_>) -> Result<bool, Damage> {
    if section.u32(32)? != 0 {
        return Ok(false);
    }
    if manages_missing(section)? {
        let words = "complex packing without groups but with missing values".to_owned();
        return Err(section.damage(Fault::UnsupportedFeature(words)));
    }
    Ok(true)
}

/// Whether missing values are marked inside the packing (code table 5.5).
pub(super) fn manages_missing(section: &Section<'_>) -> Result<bool, Damage> {
    Ok(section.u8(23)? != 0)
}

/// What describes the groups, from section 5.
struct Groups {
    count: u64,
    reference_bits: u64,
    width_reference: u64,
    width_bits: u64,
    length_reference: u64,
    length_increment: u64,
    last_length: u64,
    length_bits: u64,
}

impl Groups {
    fn read(section: &Section<'_>, reference_bits: u8) -> Result<Self, Damage> {
        let octet = |number| section.u8(number).map(u64::from);
        let word = |number| section.u32(number).map(u64::from);
        Ok(Self {
            count: word(32)?,
            reference_bits: reference_bits.into(),
            width_reference: octet(36)?,
            width_bits: octet(37)?,
            length_reference: word(38)?,
            length_increment: octet(42)?,
            last_length: word(43)?,
            length_bits: octet(47)?,
        })
    }
}

/// Checks everything the decoder would allocate for or read by.
pub(super) fn check(
    field: &FieldSections<'_>,
    bits: u8,
    differenced: bool,
    count: usize,
) -> Result<(), Damage> {
    let section = &field.representation;
    check_methods(section, bits, differenced)?;
    let groups = Groups::read(section, bits)?;
    if groups.count > count as u64 {
        return Err(section.contradiction(format!("{} groups for {count} values", groups.count)));
    }
    if groups.reference_bits > WIDEST || groups.width_bits > 8 || groups.length_bits > 32 {
        return Err(section.contradiction("group references, widths or lengths of too many bits"));
    }
    let data = field.data.rest(6);
    let start = if differenced {
        check_differencing(field, data)?
    } else {
        0
    };
    let widths_at = start + octets(groups.count * groups.reference_bits);
    let lengths_at = widths_at + octets(groups.count * groups.width_bits);
    let values_at = lengths_at + octets(groups.count * groups.length_bits);
    if values_at > data.len() as u64 {
        let words = format!(
            "{} octets of data, {} groups need {values_at} before any value",
            data.len(),
            groups.count
        );
        return Err(field.data.contradiction(words));
    }
    let (values, value_bits) = totals(&groups, &data[widths_at as usize..], &data[lengths_at as usize..])
        .ok_or_else(|| {
            field
                .data
                .contradiction(format!("a group of values wider than {WIDEST} bits"))
        })?;
    if values != count as u64 {
        return Err(field.data.contradiction(format!(
            "groups of {values} values in all for {count} packed values"
        )));
    }
    if values_at + octets(value_bits) > data.len() as u64 {
        return Err(field
            .data
            .contradiction("the groups' values need more octets than there are"));
    }
    Ok(())
}

fn check_methods(section: &Section<'_>, bits: u8, differenced: bool) -> Result<(), Damage> {
    let (splitting, missing) = (section.u8(22)?, section.u8(23)?);
    let unsupported = |words: String| section.damage(Fault::UnsupportedFeature(words));
    if splitting != 1 {
        return Err(unsupported(format!(
            "group splitting method {splitting} (code table 5.4)"
        )));
    }
    if missing > 2 {
        return Err(unsupported(format!(
            "missing value management {missing} (code table 5.5)"
        )));
    }
    if missing != 0 && bits == 0 {
        return Err(unsupported(
            "missing values with group references of zero bits".to_owned(),
        ));
    }
    if differenced && !matches!(section.u8(48)?, 1 | 2) {
        return Err(unsupported(format!(
            "spatial differencing of order {} (code table 5.6)",
            section.u8(48)?
        )));
    }
    Ok(())
}

/// The extra descriptors of spatial differencing: how many octets they take. Their minimum must not overflow.
fn check_differencing(field: &FieldSections<'_>, data: &[u8]) -> Result<u64, Damage> {
    let (order, size) = (
        usize::from(field.representation.u8(48)?),
        usize::from(field.representation.u8(49)?),
    );
    if !(1..=4).contains(&size) {
        let words = format!("extra descriptors of {size} octets");
        return Err(field.representation.contradiction(words));
    }
    let length = (order + 1) * size;
    let Some(minimum) = data.get(order * size..length) else {
        return Err(field
            .data
            .contradiction("too short for the extra descriptors of spatial differencing"));
    };
    let magnitude = minimum.iter().enumerate().fold(0_u64, |sum, (at, &octet)| {
        (sum << 8) | u64::from(if at == 0 { octet & 0x7f } else { octet })
    });
    if magnitude >= 1 << (WIDEST + 1) {
        return Err(field
            .data
            .contradiction("an implausible minimum of the differences"));
    }
    Ok(length as u64)
}

fn octets(bits: u64) -> u64 {
    bits.div_ceil(8)
}

/// Values of all groups and the bits they take; none where a group is too wide.
fn totals(groups: &Groups, widths: &[u8], lengths: &[u8]) -> Option<(u64, u64)> {
    let (mut values, mut bits) = (0, 0);
    for group in 0..groups.count {
        let width = groups.width_reference + bits_at(widths, group * groups.width_bits, groups.width_bits);
        let scaled = bits_at(lengths, group * groups.length_bits, groups.length_bits);
        let length = if group + 1 == groups.count {
            groups.last_length
        } else {
            groups.length_reference + scaled * groups.length_increment
        };
        if width > WIDEST {
            return None;
        }
        values += length;
        bits += length * width;
    }
    Some((values, bits))
}

/// Up to 32 bits from a bit position, big-endian; octets beyond the end count as zero.
fn bits_at(octets: &[u8], from: u64, bits: u64) -> u64 {
    let first = (from / 8) as usize;
    let window = (first..first + 5).fold(0_u64, |window, at| {
        (window << 8) | u64::from(octets.get(at).copied().unwrap_or_default())
    });
    (window >> (40 - from % 8 - bits)) & ((1 << bits) - 1)
}
