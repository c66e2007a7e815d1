//! One block of samples: stepping over it, and decoding it.
//!
//! Must not know: intervals, which samples are wanted.

use super::select::place_of_one;
use super::{Broken, Coded, LONGEST, Place, REMAINDER, SEGMENT};
use crate::packing::bits::WINDOW;

/// How a block is coded.
enum Coding {
    Zeros,
    Pairs,
    Whole,
    Split(u32),
}

impl Coded<'_> {
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
    pub(super) fn walk_block(&self, place: Place) -> Result<Place, Broken> {
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

    /// Decodes one block, or one of a run of blocks of zeros, whose samples are all the same but for a reference.
    pub(super) fn decode_block(
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
            let (most, coded) = (self.most(), &mut decoded[first..self.block]);
            // Of samples of so many bits, as the largest is all ones.
            if coded.iter().fold(0, |bits, sample| bits | *sample) > most {
                return Err(Broken);
            }
            for sample in coded {
                *previous = undo(most, *previous, *sample);
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
    fn split(&self, at: u64, lower: u32, coded: &mut [u32]) -> Result<u64, Broken> {
        let mut at = self.upper_bits(at, lower, coded)?;
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

    /// The upper bits where they belong, and the bit after them. The first bit of a window becomes its least significant one: from there
    /// on the ones are taken away one by one, which waits for nothing but the one before.
    #[inline]
    fn upper_bits(&self, at: u64, lower: u32, coded: &mut [u32]) -> Result<u64, Broken> {
        let (mut window, mut window_at) = (self.bits.window(at).reverse_bits(), at);
        let (mut after, mut beyond) = (at, 0);
        for sample in coded.iter_mut() {
            while window == 0 {
                // As many bits of the window counted as its octets have after the first bit.
                window_at += 64 - window_at % 8;
                if window_at >= self.bits.count() {
                    return Err(Broken);
                }
                window = self.bits.window(window_at).reverse_bits();
            }
            let one = window_at + u64::from(window.trailing_zeros());
            window &= window - 1;
            let upper = one - after;
            after = one + 1;
            beyond |= upper >> (32 - lower);
            *sample = (upper << lower) as u32;
        }
        // A sample has 32 bits at most, and what has more is no sample.
        if beyond == 0 { Ok(after) } else { Err(Broken) }
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
}

/// The sample after another, from what was coded of their difference: small differences of either sign alternate, as far as both ends
/// of the range up to `most` leave room; beyond it counts away from the nearer end.
#[inline]
fn undo(most: u32, previous: u32, coded: u32) -> u32 {
    let room = previous.min(most - previous);
    if coded.div_ceil(2) > room {
        return if room == previous { coded } else { most - coded };
    }
    // Half of an even number; of an odd one the half above it, to the other side: no branch, as chance would take it.
    previous.wrapping_add((coded / 2) ^ (coded % 2).wrapping_neg())
}

#[cfg(test)]
mod tests {
    use super::*;

    // Source: CCSDS 121.0-B-3, section 4.3 (the prediction error mapper), read from the mapping: for every pair of samples of four bits the
    // mapped difference gives the second back.
    #[test]
    fn every_difference_is_undone() {
        for previous in 0..16_i64 {
            for sample in 0..16 {
                let (difference, room) = (sample - previous, previous.min(15 - previous));
                let mapped = match difference {
                    d if (0..=room).contains(&d) => 2 * d,
                    d if (-room..0).contains(&d) => 2 * -d - 1,
                    d => room + d.abs(),
                };
                assert_eq!(
                    i64::from(undo(15, previous as u32, mapped as u32)),
                    sample,
                    "{previous} {sample}"
                );
            }
        }
    }
}
