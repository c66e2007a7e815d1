//! Values of a group that are only needed for those after them: most of what is read where differences are packed.
//!
//! Must not know: which values are wanted, what they stand for.

use super::sums::Sums;
use super::{Group, Groups};
use crate::packing::bits::WINDOW;

impl Groups<'_> {
    /// So many values of a group, the first of which begins at this bit.
    pub(super) fn pass<S: Sums>(&self, group: &Group, bit: u64, count: u64, sums: &mut S) {
        if S::FREE {
            return;
        }
        if self.missing != 0 {
            return self.pass_missing(group, bit, count, sums);
        }
        let run = (bit, count);
        // A width known when the program is made needs no shift by a number that is read: half the time. Real fields have few wider ones.
        match group.width {
            0 => sums.skip_equal(group.reference as i64, count as i64),
            1 => self.pass_of::<1, S>(group, run, sums),
            2 => self.pass_of::<2, S>(group, run, sums),
            3 => self.pass_of::<3, S>(group, run, sums),
            4 => self.pass_of::<4, S>(group, run, sums),
            5 => self.pass_of::<5, S>(group, run, sums),
            6 => self.pass_of::<6, S>(group, run, sums),
            7 => self.pass_of::<7, S>(group, run, sums),
            8 => self.pass_of::<8, S>(group, run, sums),
            9 => self.pass_of::<9, S>(group, run, sums),
            10 => self.pass_of::<10, S>(group, run, sums),
            11 => self.pass_of::<11, S>(group, run, sums),
            12 => self.pass_of::<12, S>(group, run, sums),
            13 => self.pass_of::<13, S>(group, run, sums),
            14 => self.pass_of::<14, S>(group, run, sums),
            _ => self.pass_one_by_one(group, run, sums),
        }
    }

    /// As many numbers at a time as one window surely holds.
    fn pass_of<const WIDTH: u32, S: Sums>(
        &self,
        group: &Group,
        (mut bit, mut count): (u64, u64),
        sums: &mut S,
    ) {
        let (at_once, reference) = (WINDOW / WIDTH, group.reference as i64);
        while count >= u64::from(at_once) {
            let window = self.packed.window(bit);
            let number = |at: u32| (window << (at * WIDTH) >> (64 - WIDTH)) as i64;
            sums.take(reference, (0..at_once).map(number));
            bit += u64::from(at_once * WIDTH);
            count -= u64::from(at_once);
        }
        self.pass_one_by_one(group, (bit, count), sums);
    }

    fn pass_one_by_one<S: Sums>(&self, group: &Group, (bit, count): (u64, u64), sums: &mut S) {
        let width = group.width;
        let number = |at: u64| self.packed.number(bit + at * u64::from(width), width) as i64;
        sums.take(group.reference as i64, (0..count).map(number));
    }

    fn pass_missing<S: Sums>(&self, group: &Group, bit: u64, count: u64, sums: &mut S) {
        if group.width == 0 {
            if !self.is_missing(group, 0) {
                sums.skip_equal(group.reference as i64, count as i64);
            }
            return;
        }
        for at in 0..count {
            let packed = self.packed.number(bit + at * u64::from(group.width), group.width);
            if !self.is_missing(group, packed) {
                sums.next((group.reference + packed) as i64);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::sums::{First, Second};
    use super::super::{Bits, Start};
    use super::*;

    fn groups(packed: &[u8], missing: u8) -> Groups<'_> {
        Groups {
            start: Start::Plain,
            count: 1,
            reference_bits: 8,
            missing,
            width_reference: 0,
            width_bits: 0,
            length_reference: 0,
            length_increment: 0,
            last_length: 0,
            length_bits: 0,
            references: Bits(&[]),
            widths: Bits(&[]),
            lengths: Bits(&[]),
            packed: Bits(packed),
        }
    }

    // By definition, against one value at a time.
    fn passes_as_one_by_one<S: Sums>(begin: impl Fn() -> S) {
        let octets: Vec<u8> = (0..600_u32).map(|at| (at * at * 151 + 43) as u8).collect();
        for (width, missing, begins) in
            (0..=20).flat_map(|width| [(width, 0, 0), (width, 0, 13), (width, 2, 5)])
        {
            let groups = groups(&octets, missing);
            for count in [0, 1, 2, 3, 57, 58, 200] {
                let group = Group {
                    reference: 7,
                    width,
                    length: count,
                };
                let (mut passed, mut taken) = (begin(), begin());
                groups.pass(&group, begins, count, &mut passed);
                for at in 0..count {
                    let packed = groups.packed.number(begins + at * u64::from(width), width);
                    if !groups.is_missing(&group, packed) {
                        taken.next((group.reference + packed) as i64);
                    }
                }
                // Twice, as a sum of the second order has a step beside its value.
                let next = |sums: &mut S| (sums.next(0), sums.next(0));
                assert_eq!(
                    next(&mut passed),
                    next(&mut taken),
                    "{count} of {width} bits from {begins}"
                );
            }
        }
    }

    #[test]
    fn values_of_every_width_are_passed_as_one_by_one() {
        passes_as_one_by_one(|| First::new([11, 0], -3));
        passes_as_one_by_one(|| Second::new([11, 19], -3));
    }
}
