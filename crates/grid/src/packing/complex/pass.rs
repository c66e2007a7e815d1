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
