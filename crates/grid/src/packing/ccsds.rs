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

use super::Scaling;
use super::bits::{Bits, WINDOW};
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
    samples
        .into_iter()
        .map(|sample| super::finite(&field.data, scaling.value_of(f64::from(sample))))
        .collect()
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

    /// The option of a block, the bit after what stands before its samples, and its reference sample, if it has one.
    #[inline]
    fn head(&self, place: Place) -> Result<(Coding, u64, Option<u32>), Broken> {
        let all = (1 << self.option_bits) - 1;
        let code = self.bits.number(place.at, self.option_bits);
        let mut at = place.at + u64::from(self.option_bits);
        let option = match code {
            0 => {
                at += 1;
                if self.bits.number(at - 1, 1) == 0 {
                    Coding::Zeros
                } else {
                    Coding::Pairs
                }
            }
            code if code == all => Coding::Whole,
            code => Coding::Split((code - 1) as u32),
        };
        let reference = (self.preprocessed && place.number == 0).then(|| {
            let reference = self.bits.number(at, self.sample_bits) as u32;
            at += u64::from(self.sample_bits);
            reference
        });
        if at > self.bits.count() {
            return Err(Broken);
        }
        Ok((option, at, reference))
    }

    /// Steps over one block, or over a run of blocks of zeros.
    #[inline]
    fn walk_block(&self, place: Place) -> Result<Place, Broken> {
        let (option, at, reference) = self.head(place)?;
        let samples = self.block as u64 - u64::from(reference.is_some());
        let (at, blocks) = match option {
            Coding::Zeros => {
                let (run, at) = self.run_of_zeros(at, place.number)?;
                (at, run)
            }
            // With a reference the first pair's first number stands for nothing.
            Coding::Pairs => (self.after_ones(at, self.block as u64 / 2)?, 1),
            Coding::Whole => (at + samples * u64::from(self.sample_bits), 1),
            Coding::Split(lower) => (self.after_ones(at, samples)? + samples * u64::from(lower), 1),
        };
        Ok(Place {
            at,
            number: place.number + blocks,
        })
    }

    /// How many blocks of zeros there are, and the bit after their number.
    fn run_of_zeros(&self, at: u64, number: u64) -> Result<(u64, u64), Broken> {
        let (unary, at) = self.unary(at)?;
        let left = self.blocks - number;
        let run = match u64::from(unary) + 1 {
            REMAINDER => left.min(SEGMENT - number % SEGMENT),
            run if run > REMAINDER => run - 1,
            run => run,
        };
        if run > left { Err(Broken) } else { Ok((run, at)) }
    }

    /// A number of zeros that a one ends, and the bit after it.
    #[inline]
    fn unary(&self, from: u64) -> Result<(u32, u64), Broken> {
        let zeros = self.bits.window(from).leading_zeros();
        if zeros < 57 {
            let after = from + u64::from(zeros) + 1;
            return if after > self.bits.count() {
                Err(Broken)
            } else {
                Ok((zeros, after))
            };
        }
        let after = self.after_ones(from, 1)?;
        Ok((u32::try_from(after - from - 1).map_err(|_| Broken)?, after))
    }

    /// The bit after the last of so many ones, from a bit on.
    #[inline]
    fn after_ones(&self, mut from: u64, mut ones: u64) -> Result<u64, Broken> {
        loop {
            if ones == 0 {
                return Ok(from);
            }
            if from >= self.bits.count() {
                return Err(Broken);
            }
            // As many bits of the window count as its octets have after the first bit.
            let (window, valid) = (self.bits.window(from), 64 - from % 8);
            let here = u64::from(window.count_ones());
            if here >= ones {
                return Ok(from + u64::from(place_of_one(window, ones as u32)) + 1);
            }
            ones -= here;
            from += valid;
        }
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

    /// Decodes one block, or one of a run of blocks of zeros, whose samples are all the same but for a reference.
    fn decode_block(
        &self,
        place: Place,
        previous: &mut u32,
        decoded: &mut [u32; LONGEST],
    ) -> Result<Place, Broken> {
        let (option, mut at, reference) = self.head(place)?;
        let first = usize::from(reference.is_some());
        let coded = &mut decoded[first..self.block];
        let mut blocks = 1;
        match option {
            Coding::Zeros => {
                coded.fill(0);
                (blocks, at) = self.run_of_zeros(at, place.number)?;
            }
            Coding::Pairs => at = self.pairs(at, first, coded)?,
            Coding::Whole => {
                for sample in coded.iter_mut() {
                    *sample = self.bits.number(at, self.sample_bits) as u32;
                    at += u64::from(self.sample_bits);
                }
            }
            Coding::Split(lower) => at = self.split(at, lower, coded)?,
        }
        if at > self.bits.count() {
            return Err(Broken);
        }
        if let Some(reference) = reference {
            decoded[0] = reference;
            *previous = reference;
        }
        if self.preprocessed {
            let most = self.most();
            for sample in &mut decoded[first..self.block] {
                if *sample > most {
                    return Err(Broken);
                }
                *previous = self.undo(*previous, *sample);
                *sample = *previous;
            }
        }
        Ok(Place {
            at,
            number: place.number + blocks,
        })
    }

    /// Upper bits in unary, all of them, then the lower ones.
    #[inline]
    fn split(&self, mut at: u64, lower: u32, coded: &mut [u32]) -> Result<u64, Broken> {
        let (mut window, mut valid) = (self.bits.window(at), 64 - (at % 8) as u32);
        for sample in coded.iter_mut() {
            let zeros = window.leading_zeros();
            let upper = if zeros < valid {
                at += u64::from(zeros) + 1;
                // Shifted twice, as no shift is by all 64 bits.
                window = window << zeros << 1;
                valid -= zeros + 1;
                zeros
            } else {
                let (upper, after) = self.unary(at)?;
                at = after;
                (window, valid) = (self.bits.window(at), 64 - (at % 8) as u32);
                upper
            };
            // A sample has 32 bits at most, and what has more is no sample.
            *sample = u32::try_from(u64::from(upper) << lower).map_err(|_| Broken)?;
        }
        if lower == 0 {
            return Ok(at);
        }
        for samples in coded.chunks_mut((WINDOW / lower) as usize) {
            let mut window = self.bits.window(at);
            for sample in samples.iter_mut() {
                *sample |= (window >> (64 - lower)) as u32;
                window <<= lower;
            }
            at += samples.len() as u64 * u64::from(lower);
        }
        Ok(at)
    }

    /// Two samples a and b by one number, (a + b)(a + b + 1) / 2 + b.
    fn pairs(&self, mut at: u64, first: usize, coded: &mut [u32]) -> Result<u64, Broken> {
        let mut place = first;
        while place < self.block {
            let (number, after) = self.unary(at)?;
            at = after;
            let sum = (((8.0 * f64::from(number) + 1.0).sqrt() - 1.0) / 2.0) as u32;
            let before = u64::from(sum) * u64::from(sum + 1) / 2;
            let second = u64::from(number)
                .checked_sub(before)
                .and_then(|second| u32::try_from(second).ok());
            let second = second.ok_or(Broken)?;
            if place.is_multiple_of(2) {
                coded[place - first] = sum.checked_sub(second).ok_or(Broken)?;
                place += 1;
            }
            coded[place - first] = second;
            place += 1;
        }
        Ok(at)
    }

    /// The largest sample.
    #[inline]
    fn most(&self) -> u32 {
        u32::MAX >> (32 - self.sample_bits)
    }

    /// The sample after another, from what was coded of their difference: small differences of either sign alternate, as far as both ends
    /// of the range leave room; beyond it counts away from the nearer end.
    #[inline]
    fn undo(&self, previous: u32, coded: u32) -> u32 {
        let most = self.most();
        let half = coded.div_ceil(2);
        let upper = previous > most / 2;
        let room = if upper { most - previous } else { previous };
        if half > room {
            return if upper { most.wrapping_sub(coded) } else { coded };
        }
        match coded.is_multiple_of(2) {
            true => previous.wrapping_add(coded / 2),
            false => previous.wrapping_sub(half),
        }
    }
}

/// How a block is coded.
enum Coding {
    Zeros,
    Pairs,
    Whole,
    Split(u32),
}

/// Where the so-manyth one of a window stands, from its most significant bit; there are as many.
#[inline]
fn place_of_one(window: u64, which: u32) -> u32 {
    const LOW: u64 = 0x0101_0101_0101_0101;
    const HIGH: u64 = 0x8080_8080_8080_8080;
    // Ones of each octet, the first octet the least significant; then of it and those before.
    let octets = window.swap_bytes();
    let twos = octets - ((octets >> 1) & 0x5555_5555_5555_5555);
    let fours = (twos & 0x3333_3333_3333_3333) + ((twos >> 2) & 0x3333_3333_3333_3333);
    let ones = (fours + (fours >> 4)) & 0x0f0f_0f0f_0f0f_0f0f;
    let sums = ones.wrapping_mul(LOW);
    // An octet's high bit stays where the sum is not below the number sought.
    let reached = ((sums | HIGH) - u64::from(which) * LOW) & HIGH;
    let octet = reached.trailing_zeros() / 8;
    let before = ((sums << 8) >> (8 * octet)) as u32 & 0xff;
    let mut bits = (window << (8 * octet)) >> 56;
    for _ in 1..which - before {
        bits &= !(1 << (63 - bits.leading_zeros()));
    }
    8 * octet + bits.leading_zeros() - 56
}

#[cfg(test)]
mod tests {
    use super::*;

    // By definition, against one bit at a time.
    #[test]
    fn a_one_is_found_where_it_stands() {
        let mut window = 0x9e37_79b9_7f4a_7c15_u64;
        for round in 0..2000 {
            window = window.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(round);
            for shown in [
                window,
                window & (window << 7),
                window | (window >> 3),
                u64::MAX,
                1,
                1 << 63,
            ] {
                let mut which = 0;
                for place in 0..64 {
                    if shown & (1 << (63 - place)) != 0 {
                        which += 1;
                        assert_eq!(place_of_one(shown, which), place, "{shown:x} {which}");
                    }
                }
            }
        }
    }

    // Source: CCSDS 121.0-B-3, section 4.3 (the prediction error mapper), read from the mapping: for every pair of samples of four bits the
    // mapped difference gives the second back.
    #[test]
    fn every_difference_is_undone() {
        let coded = Coded {
            bits: Bits(&[]),
            sample_bits: 4,
            option_bits: 3,
            block: 8,
            blocks: 1,
            preprocessed: true,
            padded: false,
        };
        for previous in 0..16_i64 {
            for sample in 0..16 {
                let (difference, room) = (sample - previous, previous.min(15 - previous));
                let mapped = match difference {
                    d if (0..=room).contains(&d) => 2 * d,
                    d if (-room..0).contains(&d) => 2 * -d - 1,
                    d => room + d.abs(),
                };
                assert_eq!(
                    i64::from(coded.undo(previous as u32, mapped as u32)),
                    sample,
                    "{previous} {sample}"
                );
            }
        }
    }
}
