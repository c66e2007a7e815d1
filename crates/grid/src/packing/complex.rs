//! Complex packing and spatial differencing (templates 5.2 and 5.3, data templates 7.2 and 7.3): one loop over the groups. A group
//! without a wanted value is stepped over, or, where differences are packed, only added up.
//!
//! Section 7: the extra descriptors of template 5.3 (first values, which have no sign, then the least difference, whose first bit is its sign); the groups'
//! references, then their widths, then their lengths, each list filled up to whole octets; then the values. A value of group g is its
//! reference plus its own number of width(g) bits. Where missing values are managed (code table 5.5), a number of ones alone is the primary
//! missing value, one less the secondary; with a width of zero the reference says it. Differences run over the values that are not missing.

mod pass;
mod sums;

use super::Scaling;
use super::bits::Bits;
use crate::sections::{FieldSections, Section};
use crate::{Damage, Fault};
use forecast::{Gap, Sample};
use sums::{First, Plain, Second, Sums};

/// Widest group reference, width and value.
const WIDEST: u64 = 32;

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

/// The values at these ascending positions among the `count` packed ones.
pub(super) fn values(
    field: &FieldSections<'_>,
    (bits, count): (u8, usize),
    differenced: bool,
    wanted: &[usize],
    scaling: &Scaling,
) -> Result<Vec<Sample>, Damage> {
    check_methods(&field.representation, bits, differenced)?;
    let groups = Groups::read(field, bits, differenced, count)?;
    let picking = Picking {
        section: &field.data,
        scaling,
        wanted,
        values: Vec::with_capacity(wanted.len()),
    };
    match &groups.start {
        Start::Plain => groups.each(picking, count, Plain),
        Start::Differences {
            order: 1,
            first,
            least,
        } => groups.each(picking, count, First::new(*first, *least)),
        Start::Differences { first, least, .. } => groups.each(picking, count, Second::new(*first, *least)),
    }
}

/// What section 7 begins with, from section 5.
#[derive(Clone, Copy)]
enum Start {
    Plain,
    Differences { order: u8, first: [i64; 2], least: i64 },
}

/// The groups of a field.
struct Groups<'a> {
    start: Start,
    count: u64,
    reference_bits: u32,
    missing: u8,
    width_reference: u64,
    width_bits: u32,
    length_reference: u64,
    length_increment: u64,
    last_length: u64,
    length_bits: u32,
    references: Bits<'a>,
    widths: Bits<'a>,
    lengths: Bits<'a>,
    packed: Bits<'a>,
}

/// One group.
struct Group {
    reference: u64,
    width: u32,
    length: u64,
}

/// The wanted values as they are found.
struct Picking<'a> {
    section: &'a Section<'a>,
    scaling: &'a Scaling,
    wanted: &'a [usize],
    values: Vec<Sample>,
}

impl Picking<'_> {
    /// The next wanted position.
    #[inline]
    fn next(&self) -> u64 {
        self.wanted
            .get(self.values.len())
            .map_or(u64::MAX, |position| *position as u64)
    }

    #[inline]
    fn pick(&mut self, whole: Option<i64>) {
        let value = |whole| self.scaling.value_of(whole as f64);
        self.values.push(whole.map(value).ok_or(Gap::Masked));
    }
}

impl<'a> Groups<'a> {
    /// Reads what describes the groups, and sees that the lists before the values are all there.
    fn read(field: &FieldSections<'a>, bits: u8, differenced: bool, count: usize) -> Result<Self, Damage> {
        let section = &field.representation;
        let groups = u64::from(section.u32(32)?);
        if groups > count as u64 {
            return Err(section.contradiction(format!("{groups} groups for {count} values")));
        }
        let (width_bits, length_bits) = (section.u8(37)?, section.u8(47)?);
        if u64::from(bits) > WIDEST || width_bits > 8 || u64::from(length_bits) > WIDEST {
            return Err(section.contradiction("group references, widths or lengths of too many bits"));
        }
        let data = field.data.rest(6);
        let (start, begins) = if differenced {
            differences(field, data)?
        } else {
            (Start::Plain, 0)
        };
        let list = |from: u64, bits: u8| from + (groups * u64::from(bits)).div_ceil(8);
        let widths_at = list(begins, bits);
        let lengths_at = list(widths_at, width_bits);
        let values_at = list(lengths_at, length_bits);
        let from = |at: u64| usize::try_from(at).ok().and_then(|at| data.get(at..)).map(Bits);
        let (Some(references), Some(widths), Some(lengths), Some(packed)) =
            (from(begins), from(widths_at), from(lengths_at), from(values_at))
        else {
            let words = format!(
                "{} octets of data, {groups} groups need {values_at} before any value",
                data.len()
            );
            return Err(field.data.contradiction(words));
        };
        Ok(Self {
            start,
            count: groups,
            reference_bits: bits.into(),
            missing: section.u8(23)?,
            width_reference: section.u8(36)?.into(),
            width_bits: width_bits.into(),
            length_reference: section.u32(38)?.into(),
            length_increment: section.u8(42)?.into(),
            last_length: section.u32(43)?.into(),
            length_bits: length_bits.into(),
            references,
            widths,
            lengths,
            packed,
        })
    }

    /// Goes over the groups; after the last wanted value only to see that they are whole.
    fn each<S: Sums>(
        &self,
        mut picking: Picking<'_>,
        count: usize,
        mut sums: S,
    ) -> Result<Vec<Sample>, Damage> {
        let section = picking.section;
        let (mut at, mut bit) = (0_u64, 0_u64);
        for number in 0..self.count {
            let group = self.group(number);
            if u64::from(group.width) > WIDEST {
                return Err(section.contradiction(format!("a group of values wider than {WIDEST} bits")));
            }
            let (ends, next_bit) = (at + group.length, bit + group.length * u64::from(group.width));
            // Both stay small: lengths have 40 bits, and a group that is too long ends the loop.
            if ends > count as u64 || next_bit > self.packed.count() {
                return Err(
                    section.contradiction("the groups' values need more octets, or are more, than there are")
                );
            }
            let next = picking.next();
            if next < ends {
                self.with_wanted(&group, (at, bit), &mut sums, &mut picking);
            } else if next != u64::MAX {
                self.pass(&group, bit, group.length, &mut sums);
            }
            (at, bit) = (ends, next_bit);
        }
        if at != count as u64 {
            return Err(
                section.contradiction(format!("groups of {at} values in all for {count} packed values"))
            );
        }
        super::finite(section, picking.values)
    }

    #[inline]
    fn group(&self, number: u64) -> Group {
        let of = |list: Bits<'_>, bits: u32| list.number(number * u64::from(bits), bits);
        let length = if number + 1 == self.count {
            self.last_length
        } else {
            self.length_reference + of(self.lengths, self.length_bits) * self.length_increment
        };
        Group {
            reference: of(self.references, self.reference_bits),
            width: u32::try_from(self.width_reference + of(self.widths, self.width_bits)).unwrap_or(u32::MAX),
            length,
        }
    }

    /// A group that holds at least one wanted value: from one to the next, and what comes after the last.
    fn with_wanted<S: Sums>(
        &self,
        group: &Group,
        (mut at, mut bit): (u64, u64),
        sums: &mut S,
        picking: &mut Picking<'_>,
    ) {
        let (ends, width) = (at + group.length, u64::from(group.width));
        let mut next = picking.next();
        while next < ends {
            self.pass(group, bit, next - at, sums);
            bit += (next - at) * width;
            let packed = self.packed.number(bit, group.width);
            picking.pick(match self.is_missing(group, packed) {
                true => None,
                false => Some(sums.next((group.reference + packed) as i64)),
            });
            (at, bit) = (next + 1, bit + width);
            next = picking.next();
        }
        if next != u64::MAX {
            self.pass(group, bit, ends - at, sums);
        }
    }

    #[inline]
    fn is_missing(&self, group: &Group, packed: u64) -> bool {
        if self.missing == 0 {
            return false;
        }
        let (number, bits) = match group.width {
            0 => (group.reference, self.reference_bits),
            width => (packed, width),
        };
        let ones = (1_u64 << bits) - 1;
        // A number of one bit has no room for a value beside both missing ones.
        number == ones || (self.missing == 2 && number == ones - 1)
    }
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
        let order = section.u8(48)?;
        return Err(unsupported(format!(
            "spatial differencing of order {order} (code table 5.6)"
        )));
    }
    Ok(())
}

/// The extra descriptors of spatial differencing, and how many octets they take.
fn differences(field: &FieldSections<'_>, data: &[u8]) -> Result<(Start, u64), Damage> {
    let (order, size) = (
        field.representation.u8(48)?,
        usize::from(field.representation.u8(49)?),
    );
    if !(1..=4).contains(&size) {
        let words = format!("extra descriptors of {size} octets");
        return Err(field.representation.contradiction(words));
    }
    let length = (usize::from(order) + 1) * size;
    let Some(descriptors) = data.get(..length) else {
        return Err(field
            .data
            .contradiction("too short for the extra descriptors of spatial differencing"));
    };
    let mut first = [0; 2];
    let (firsts, least) = descriptors.split_at(usize::from(order) * size);
    for (value, octets) in first.iter_mut().zip(firsts.chunks_exact(size)) {
        *value = octets.iter().fold(0, |sum, octet| (sum << 8) | i64::from(*octet));
    }
    let least = signed(least);
    Ok((Start::Differences { order, first, least }, length as u64))
}

/// Octets whose first bit is the sign (regulation 92.1.5).
fn signed(octets: &[u8]) -> i64 {
    let (mut magnitude, negative) = (0, octets.first().is_some_and(|first| first & 0x80 != 0));
    for (at, octet) in octets.iter().enumerate() {
        magnitude = (magnitude << 8) | i64::from(if at == 0 { octet & 0x7f } else { *octet });
    }
    if negative { -magnitude } else { magnitude }
}
