//! The values of some or all nodes of one field.
//!
//! Owns: bitmaps, from positions among the grid's points to positions among the packed values. Must not know: how values are packed.

use crate::layout::Layout;
use crate::sections::{self, FieldSections};
use crate::wanted::WantedNodes;
use crate::{Damage, Fault, FieldHeader, Message, packing};
use forecast::{Gap, Sample};

/// The values of a field at these nodes, given as columns and rows of its grid, in the order asked for. The cells of an
/// unstructured mesh are columns of its only row, 0.
///
/// A node that the producer masks, by a bitmap or inside the packing, is [`Gap::Masked`]; one outside the grid is
/// [`Gap::OutsideGrid`]. Decoding stops after the last wanted node where the packing lets it.
///
/// # Errors
/// What makes the field unsupported or its octets unusable; then no value of it is given. So are 2^32 nodes or more.
pub fn values_at(
    message: &Message<'_>,
    field: &FieldHeader,
    nodes: &[(u32, u32)],
) -> Result<Vec<Sample>, Damage> {
    values_of(message, field, &WantedNodes::new(message, field, nodes)?)
}

/// The same of nodes that were found before, on another message of the same grid.
///
/// # Errors
/// As [`values_at`], and a field of another grid.
pub fn values_of(
    message: &Message<'_>,
    field: &FieldHeader,
    wanted: &WantedNodes,
) -> Result<Vec<Sample>, Damage> {
    of_by(message, field, wanted, packing::unpack)
}

/// The same by the `grib` crate's decoders, which stop after the last wanted value: an independent second way, for comparisons. PNG and IEEE
/// floating point are read in one way only.
///
/// # Errors
/// As [`values_of`].
pub fn values_of_by_library(
    message: &Message<'_>,
    field: &FieldHeader,
    wanted: &WantedNodes,
) -> Result<Vec<Sample>, Damage> {
    of_by(message, field, wanted, packing::unpack_by_library)
}

/// True where unpacking wanted values of a field takes no more memory and time than its octets and the wanted values account for; false
/// where a library unpacks an image whose needs are its own, or an image is very large.
pub fn unpacks_in_bounds(message: &Message<'_>, field: &FieldHeader) -> bool {
    // Of a field that is refused nothing is unpacked.
    sections_of(message, field).map_or(true, |sections| packing::unpacks_in_bounds(&sections))
}

fn of_by(
    message: &Message<'_>,
    field: &FieldHeader,
    wanted: &WantedNodes,
    unpack: Unpack,
) -> Result<Vec<Sample>, Damage> {
    let sections = sections_of(message, field)?;
    wanted.check_grid(&sections)?;
    let packed = PackedPositions::read(&sections, wanted.points())?;
    let values = match packed.bitmap {
        None => unpack(&sections, packed.count, wanted.positions())?,
        Some(bitmap) => present_and_masked(&sections, (bitmap, packed.count), wanted.positions(), unpack)?,
    };
    let handed_out = wanted.hand_out(&values);
    Ok(handed_out
        .map(|value| value.copied().unwrap_or(Err(Gap::OutsideGrid)))
        .collect())
}

/// The samples at these positions of a field with a bitmap.
fn present_and_masked(
    sections: &FieldSections<'_>,
    (bitmap, count): (&[u8], usize),
    positions: &[usize],
    unpack: Unpack,
) -> Result<Vec<Sample>, Damage> {
    let mut counted = Ranks::of(bitmap);
    let ranks: Vec<Option<usize>> = positions.iter().map(|&position| counted.rank(position)).collect();
    let present: Vec<usize> = ranks.iter().copied().flatten().collect();
    let mut values = unpack(sections, count, &present)?.into_iter();
    let sample = |rank: &Option<usize>| match rank {
        Some(_) => values.next().unwrap_or(Err(Gap::Damaged)),
        None => Err(Gap::Masked),
    };
    Ok(ranks.iter().map(sample).collect())
}

/// All values of a field in the order they are stored: what the coordinates of a mesh are read by.
///
/// # Errors
/// As [`values_at`].
pub fn all_values(message: &Message<'_>, field: &FieldHeader) -> Result<Vec<Sample>, Damage> {
    all_by(message, field, packing::unpack)
}

/// All of them as [`values_of_by_library`] reads them.
///
/// # Errors
/// As [`values_at`].
pub fn all_values_by_library(message: &Message<'_>, field: &FieldHeader) -> Result<Vec<Sample>, Damage> {
    all_by(message, field, packing::unpack_by_library)
}

/// Values at ascending positions among so many packed ones.
type Unpack = fn(&FieldSections<'_>, usize, &[usize]) -> Result<Vec<Sample>, Damage>;

fn all_by(message: &Message<'_>, field: &FieldHeader, unpack: Unpack) -> Result<Vec<Sample>, Damage> {
    let sections = sections_of(message, field)?;
    let points = Layout::read(&sections.grid)?.points();
    let packed = PackedPositions::read(&sections, points)?;
    let every: Vec<usize> = (0..packed.count).collect();
    let values = unpack(&sections, packed.count, &every)?;
    let Some(bitmap) = packed.bitmap else {
        return Ok(values);
    };
    let mut values = values.into_iter();
    Ok((0..points as usize)
        .map(|point| match is_present(bitmap, point) {
            true => values.next().unwrap_or(Err(Gap::Damaged)),
            false => Err(Gap::Masked),
        })
        .collect())
}

/// The sections of a field whose values can be had.
pub(crate) fn sections_of<'a>(
    message: &Message<'a>,
    field: &FieldHeader,
) -> Result<FieldSections<'a>, Damage> {
    if let Some(refusal) = &field.refusal {
        return Err(refusal.clone());
    }
    let sections = sections::fields(message)?;
    let wanted = usize::try_from(field.field)
        .ok()
        .and_then(|number| sections.get(number.checked_sub(1)?));
    let Some(sections) = wanted else {
        let what = Fault::contradiction(format!("the message has no field {}", field.field));
        return Err(Damage {
            message: Some(message.number),
            section: None,
            field: Some(field.field),
            offset: message.offset,
            what,
        });
    };
    Ok(*sections)
}

/// Which points of the grid have a packed value.
struct PackedPositions<'a> {
    /// One bit a point, or none where every point has a value.
    bitmap: Option<&'a [u8]>,
    /// How many values are packed.
    count: usize,
}

impl<'a> PackedPositions<'a> {
    fn read(field: &FieldSections<'a>, points: u64) -> Result<Self, Damage> {
        let count = field.representation.u32(6)?;
        let section = match field.bitmap.u8(6)? {
            0 => Some(field.bitmap),
            254 => Some(field.latest_bitmap.ok_or_else(|| {
                field
                    .bitmap
                    .contradiction("refers to an earlier bitmap, and there is none in the message")
            })?),
            255 => None,
            indicator => {
                let words = format!("bitmap indicator {indicator} (code table 6.0)");
                return Err(field.bitmap.damage(Fault::UnsupportedFeature(words)));
            }
        };
        let bitmap = section.map(|section| bits_of(&section, points)).transpose()?;
        let expected = bitmap.map_or(points, |bits| ones_before(bits, points as usize));
        if u64::from(count) != expected {
            let words = format!("{count} packed values for {expected} points");
            return Err(field.representation.contradiction(words));
        }
        Ok(Self {
            bitmap,
            count: count as usize,
        })
    }
}

/// Turns ascending positions among the grid's points into positions among the packed values: counts a bitmap's ones up to ever later
/// positions, so that all ranks together cost one pass over it.
struct Ranks<'a> {
    bitmap: &'a [u8],
    /// Whole octets counted, and the ones in them.
    counted: usize,
    ones: u64,
}

impl<'a> Ranks<'a> {
    fn of(bitmap: &'a [u8]) -> Self {
        Self {
            bitmap,
            counted: 0,
            ones: 0,
        }
    }

    /// The rank of a position that is not before the one asked for last; none where the bitmap masks it.
    fn rank(&mut self, position: usize) -> Option<usize> {
        let octet = position / 8;
        self.ones += ones_before(&self.bitmap[self.counted..octet], 8 * (octet - self.counted));
        self.counted = octet;
        let rank = self.ones + ones_before(&self.bitmap[octet..=octet], position % 8);
        is_present(self.bitmap, position).then_some(rank as usize)
    }
}

fn is_present(bitmap: &[u8], point: usize) -> bool {
    bitmap[point / 8] & (0x80 >> (point % 8)) != 0
}

fn bits_of<'a>(section: &sections::Section<'a>, points: u64) -> Result<&'a [u8], Damage> {
    let octets = points.div_ceil(8) as usize;
    let bits = section.rest(7);
    bits.get(..octets).ok_or_else(|| {
        section.contradiction(format!("a bitmap of {} octets for {points} points", bits.len()))
    })
}

/// Ones among the first `bits` bits.
fn ones_before(octets: &[u8], bits: usize) -> u64 {
    let (eights, others) = octets[..bits / 8].as_chunks::<8>();
    let ones = eights
        .iter()
        .map(|eight| u64::from(u64::from_ne_bytes(*eight).count_ones()));
    let whole: u64 = ones
        .chain(others.iter().map(|octet| octet.count_ones().into()))
        .sum();
    let rest = octets.get(bits / 8).filter(|_| !bits.is_multiple_of(8));
    whole + rest.map_or(0, |octet| u64::from((octet >> (8 - bits % 8)).count_ones()))
}
