//! The values of some or all nodes of one field.
//!
//! Owns: from nodes to positions among the packed values, bitmaps. Must not know: how values are packed.

use crate::layout::Layout;
use crate::sections::{self, FieldSections};
use crate::{Damage, Fault, FieldHeader, Message, packing};
use forecast::{Gap, Sample};

/// The values of a field at these nodes, given as columns and rows of its grid, in the order asked for. The cells of an
/// unstructured mesh are columns of its only row, 0.
///
/// A node that the producer masks, by a bitmap or inside the packing, is [`Gap::Masked`]; one outside the grid is
/// [`Gap::OutsideGrid`]. Decoding stops after the last wanted node where the packing lets it.
///
/// # Errors
/// What makes the field unsupported or its octets unusable; then no value of it is given. So are more than 2^32 nodes.
pub fn values_at(
    message: &Message<'_>,
    field: &FieldHeader,
    nodes: &[(u32, u32)],
) -> Result<Vec<Sample>, Damage> {
    at_by(message, field, nodes, packing::unpack)
}

/// The same by the `grib` crate's decoders, which stop after the last wanted value: an independent second way, for comparisons. PNG and IEEE
/// floating point are read in one way only.
///
/// # Errors
/// As [`values_at`].
pub fn values_at_by_library(
    message: &Message<'_>,
    field: &FieldHeader,
    nodes: &[(u32, u32)],
) -> Result<Vec<Sample>, Damage> {
    at_by(message, field, nodes, packing::unpack_by_library)
}

fn at_by(
    message: &Message<'_>,
    field: &FieldHeader,
    nodes: &[(u32, u32)],
    unpack: Unpack,
) -> Result<Vec<Sample>, Damage> {
    let (sections, layout, packed) = open(message, field)?;
    if u32::try_from(nodes.len()).is_err() {
        return Err(sections.data.damage(Fault::UnsupportedFeature(
            "more than 2^32 wanted nodes".to_owned(),
        )));
    }
    let mut samples = vec![Err(Gap::OutsideGrid); nodes.len()];
    let position = |&(column, row): &(u32, u32)| layout.storage_index(column, row);
    // In the order of storage, each with whose it is: one sorting serves the bitmap, the packing and the way back. Both in one number, which
    // sorts fastest: positions are below 2^25.
    let mut order: Vec<u64> = (0_u64..)
        .zip(nodes)
        .filter_map(|(whose, node)| Some((position(node)? << 32) | whose))
        .collect();
    order.sort_unstable();
    let mut wanted = Vec::with_capacity(order.len());
    let mut ranks = packed.ranks();
    let mut found: Vec<(u32, u32)> = Vec::with_capacity(order.len());
    for both in order {
        let (position, whose) = ((both >> 32) as usize, both as u32);
        match ranks.of(position) {
            Some(rank) => {
                if wanted.last() != Some(&rank) {
                    wanted.push(rank);
                }
                found.push((wanted.len() as u32 - 1, whose));
            }
            None => samples[whose as usize] = Err(Gap::Masked),
        }
    }
    let values = unpack(&sections, packed.count, &wanted)?;
    for (at, whose) in found {
        samples[whose as usize] = values.get(at as usize).copied().unwrap_or(Err(Gap::Damaged));
    }
    Ok(samples)
}

/// All values of a field in the order they are stored: what the coordinates of a mesh are read by.
///
/// # Errors
/// As [`values_at`].
pub fn all_values(message: &Message<'_>, field: &FieldHeader) -> Result<Vec<Sample>, Damage> {
    all_by(message, field, packing::unpack)
}

/// All of them as [`values_at_by_library`] reads them.
///
/// # Errors
/// As [`values_at`].
pub fn all_values_by_library(message: &Message<'_>, field: &FieldHeader) -> Result<Vec<Sample>, Damage> {
    all_by(message, field, packing::unpack_by_library)
}

/// Values at ascending positions among so many packed ones.
type Unpack = fn(&FieldSections<'_>, usize, &[usize]) -> Result<Vec<Sample>, Damage>;

fn all_by(message: &Message<'_>, field: &FieldHeader, unpack: Unpack) -> Result<Vec<Sample>, Damage> {
    let (sections, layout, packed) = open(message, field)?;
    let every: Vec<usize> = (0..packed.count).collect();
    let values = unpack(&sections, packed.count, &every)?;
    let Some(bitmap) = packed.bitmap else {
        return Ok(values);
    };
    let mut values = values.into_iter();
    let points = 0..layout.points() as usize;
    Ok(points
        .map(|point| match is_present(bitmap, point) {
            true => values.next().unwrap_or(Err(Gap::Damaged)),
            false => Err(Gap::Masked),
        })
        .collect())
}

/// A field's sections, the layout of its points and where their values are packed.
type Opened<'a> = (FieldSections<'a>, Layout, PackedPositions<'a>);

fn open<'a>(message: &Message<'a>, field: &FieldHeader) -> Result<Opened<'a>, Damage> {
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
    let layout = Layout::read(&sections.grid)?;
    let packed = PackedPositions::read(sections, layout.points())?;
    Ok((*sections, layout, packed))
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

    /// Turns ascending positions among the grid's points into positions among the packed values.
    fn ranks(&self) -> Ranks<'a> {
        Ranks {
            bitmap: self.bitmap,
            counted: 0,
            ones: 0,
        }
    }
}

/// Counts a bitmap's ones up to ever later positions, so that all ranks together cost one pass over it.
struct Ranks<'a> {
    bitmap: Option<&'a [u8]>,
    /// Whole octets counted, and the ones in them.
    counted: usize,
    ones: u64,
}

impl Ranks<'_> {
    /// The rank of a position that is not before the one asked for last; none where the bitmap masks it.
    fn of(&mut self, position: usize) -> Option<usize> {
        let Some(bitmap) = self.bitmap else {
            return Some(position);
        };
        let octet = position / 8;
        self.ones += ones_before(&bitmap[self.counted..octet], 8 * (octet - self.counted));
        self.counted = octet;
        let rank = self.ones + ones_before(&bitmap[octet..=octet], position % 8);
        is_present(bitmap, position).then_some(rank as usize)
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
