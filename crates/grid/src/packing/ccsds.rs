//! CCSDS packing (template 5.42, data template 7.42): recommended standard CCSDS 121.0-B-3, as libaec writes it.
//!
//! Samples come in blocks, blocks in intervals; at the start of an interval the coder begins anew with a reference sample. Where the next interval begins
//! is written nowhere, but finding it needs no decoding: the length of a block follows from its option and, where samples are split, from
//! where its last one bit of the first halves stands. So intervals without a wanted sample are walked over, and of one with wanted samples
//! the blocks after the last are.
//!
//! A block: the option (3, 4 or 5 bits); for option 0 one bit more; the reference sample, if the block is an interval's first; then the samples.
//! Option 0, bit 0: a run of blocks of zeros. Option 0, bit 1: pairs of samples, one unary number each ("second extension"). All ones: the
//! samples as they are. Option k + 1: each sample's upper bits in unary, all of them, then their k lower bits.

mod blocks;
mod select;

use super::Scaling;
use super::bits::Bits;
use crate::sections::FieldSections;
use crate::{Damage, Fault};
use forecast::Sample;

/// Flags of octet 22, as libaec has them.
const SIGNED: u8 = 0x01;
const PREPROCESSED: u8 = 0x08;
const RESTRICTED: u8 = 0x10;
const PADDED: u8 = 0x20;
/// A run of zero blocks of this number goes to the end of its 64 blocks ("remainder of segment").
const REMAINDER: u64 = 5;
const SEGMENT: u64 = 64;
/// Longest block.
const LONGEST: usize = 64;

/// What the octets of template 5.42 say, and the coded octets.
struct Coded<'a> {
    bits: Bits<'a>,
    sample_bits: u32,
    option_bits: u32,
    block: usize,
    blocks: u64,
    preprocessed: bool,
    padded: bool,
}

/// Why no more can be decoded.
struct Broken;

/// The values at these ascending positions among the `count` packed ones.
pub(super) fn values(
    field: &FieldSections<'_>,
    (bits, count): (u8, usize),
    wanted: &[usize],
    scaling: &Scaling,
) -> Result<Vec<Sample>, Damage> {
    let coded = Coded::read(field, bits)?;
    let mut samples = Vec::with_capacity(wanted.len());
    let per_interval = coded.block as u64 * coded.blocks;
    let (mut at, mut interval) = (0, 0);
    let mut left = wanted;
    let broken = |_: Broken| {
        let words = format!(
            "the CCSDS stream ends, or breaks off, before value {}",
            wanted.last().map_or(0, |last| last + 1)
        );
        field.data.damage(Fault::Undecodable(words))
    };
    while let Some(first) = left.first() {
        let of_first = *first as u64 / per_interval;
        while interval < of_first {
            at = coded.walk_interval(at).map_err(broken)?;
            interval += 1;
        }
        let starts = of_first * per_interval;
        let here = left.partition_point(|position| (*position as u64) < starts + per_interval);
        let (these, others) = left.split_at(here);
        let within = Within {
            starts,
            end: (count as u64 - starts).min(per_interval),
        };
        at = coded
            .interval(at, &within, (these, others.is_empty()), &mut samples)
            .map_err(broken)?;
        (interval, left) = (of_first + 1, others);
    }
    let value = |sample: &u32| Ok(scaling.value_of(f64::from(*sample)));
    super::finite(&field.data, samples.iter().map(value).collect())
}

/// An interval's first position, and how many samples of it there are.
struct Within {
    starts: u64,
    end: u64,
}

/// Where a block is read: its first bit, and which block of its interval it is.
#[derive(Clone, Copy)]
struct Place {
    at: u64,
    number: u64,
}

impl<'a> Coded<'a> {
    fn read(field: &FieldSections<'a>, bits: u8) -> Result<Self, Damage> {
        let section = &field.representation;
        let (flags, block, interval) = (section.u8(22)?, section.u8(23)?, section.u16(24)?);
        if flags & SIGNED != 0 {
            let words = "CCSDS packing of signed integers".to_owned();
            return Err(section.damage(Fault::UnsupportedFeature(words)));
        }
        if !matches!(block, 8 | 16 | 32 | 64) || !(1..=4096).contains(&interval) {
            let words =
                format!("CCSDS blocks of {block} values and intervals of {interval} blocks do not exist");
            return Err(section.contradiction(words));
        }
        let option_bits = match bits {
            17.. => 5,
            9.. => 4,
            0..=2 if flags & RESTRICTED != 0 => 1,
            3 | 4 if flags & RESTRICTED != 0 => 2,
            _ => 3,
        };
        Ok(Self {
            bits: Bits(field.data.rest(6)),
            sample_bits: bits.into(),
            option_bits,
            block: block.into(),
            blocks: interval.into(),
            preprocessed: flags & PREPROCESSED != 0,
            padded: flags & PADDED != 0,
        })
    }

    /// Where the interval after the one that begins here begins.
    fn walk_interval(&self, at: u64) -> Result<u64, Broken> {
        self.walk(Place { at, number: 0 })
    }

    /// Where the next interval begins, from a block of this one on.
    fn walk(&self, mut place: Place) -> Result<u64, Broken> {
        while place.number < self.blocks {
            place = self.walk_block(place)?;
        }
        Ok(self.next_interval(place.at))
    }

    fn next_interval(&self, at: u64) -> u64 {
        if self.padded { at.next_multiple_of(8) } else { at }
    }

    /// The wanted samples of the interval that begins here. Gives where the next one begins, unless nothing is wanted after it.
    fn interval(
        &self,
        at: u64,
        within: &Within,
        (wanted, is_last): (&[usize], bool),
        samples: &mut Vec<u32>,
    ) -> Result<u64, Broken> {
        let mut wanted = wanted
            .iter()
            .map(|position| *position as u64 - within.starts)
            .peekable();
        let (mut place, mut previous) = (Place { at, number: 0 }, 0);
        let mut decoded = [0; LONGEST];
        while let Some(next) = wanted.peek().copied() {
            if next >= within.end || place.number >= self.blocks {
                return Err(Broken);
            }
            let starts = place.number * self.block as u64;
            let after = self.decode_block(place, &mut previous, &mut decoded)?;
            let ends = after.number * self.block as u64;
            while let Some(next) = wanted.next_if(|next| *next < ends) {
                // In a run of blocks of zeros all samples but the first are the last one.
                let at = (next - starts) as usize;
                samples.push(decoded[at.min(self.block - 1)]);
            }
            place = after;
        }
        if is_last { Ok(place.at) } else { self.walk(place) }
    }
}
