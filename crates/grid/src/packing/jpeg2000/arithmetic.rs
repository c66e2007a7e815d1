//! The arithmetic decoder, and bits as they are where coding is bypassed.
//!
//! Annex C of ISO/IEC 15444-1; its table C.2 from memory: that it is right is seen by decoding others' streams. Must not know: what is decided.

use super::contexts::{RUN, UNIFORM};
use std::hint::select_unpredictable;

/// Two octets that no coded octets contain: the decoder meets them where a segment ends, and goes on with ones.
pub(super) const AFTER: [u8; 2] = [0xff, 0xff];
/// States of contexts: twice the row of table C.2, and one more where a one is the likelier decision. Rounded up to a power of two.
static STATES: [State; 128] = states();
const ROWS: usize = 47;
/// Interval of the less likely decision, next row after a likely one, next row after an unlikely one; a zero there: not turned.
const TABLE: [(u16, u8, u8); ROWS] = [
    (0x5601, 1, 1),
    (0x3401, 2, 6),
    (0x1801, 3, 9),
    (0x0ac1, 4, 12),
    (0x0521, 5, 29),
    (0x0221, 38, 33),
    (0x5601, 7, 6),
    (0x5401, 8, 14),
    (0x4801, 9, 14),
    (0x3801, 10, 14),
    (0x3001, 11, 17),
    (0x2401, 12, 18),
    (0x1c01, 13, 20),
    (0x1601, 29, 21),
    (0x5601, 15, 14),
    (0x5401, 16, 14),
    (0x5101, 17, 15),
    (0x4801, 18, 16),
    (0x3801, 19, 17),
    (0x3401, 20, 18),
    (0x3001, 21, 19),
    (0x2801, 22, 19),
    (0x2401, 23, 20),
    (0x2201, 24, 21),
    (0x1c01, 25, 22),
    (0x1801, 26, 23),
    (0x1601, 27, 24),
    (0x1401, 28, 25),
    (0x1201, 29, 26),
    (0x1101, 30, 27),
    (0x0ac1, 31, 28),
    (0x09c1, 32, 29),
    (0x08a1, 33, 30),
    (0x0521, 34, 31),
    (0x0441, 35, 32),
    (0x02a1, 36, 33),
    (0x0221, 37, 34),
    (0x0141, 38, 35),
    (0x0111, 39, 36),
    (0x0085, 40, 37),
    (0x0049, 41, 38),
    (0x0025, 42, 39),
    (0x0015, 43, 40),
    (0x0009, 44, 41),
    (0x0005, 45, 42),
    (0x0001, 45, 43),
    (0x5601, 46, 46),
];
/// The rows after whose unlikely decision the likelier one is the other.
const TURNING: [usize; 3] = [0, 6, 14];

/// A state as a context keeps it: the interval of the less likely decision in the upper half; below it the state after a likely decision, whose last
/// bit is the likelier decision, and the state after an unlikely one.
type State = u32;
const INTERVAL: u32 = 0xffff_0000;
const AFTER_LIKELY: u32 = 8;

const fn states() -> [State; 128] {
    let mut states = [0x5601 << 16; 128];
    let mut at = 0;
    while at < 2 * ROWS {
        let (interval, likely, unlikely) = TABLE[at / 2];
        let one = (at % 2) as u32;
        let turns = at / 2 == TURNING[0] || at / 2 == TURNING[1] || at / 2 == TURNING[2];
        let after_likely = 2 * likely as u32 + one;
        let after_unlikely = 2 * unlikely as u32 + if turns { 1 - one } else { one };
        states[at] = (interval as u32) << 16 | after_likely << AFTER_LIKELY | after_unlikely;
        at += 1;
    }
    states
}

/// The state of every context, by its number.
#[derive(Clone, Copy)]
pub(super) struct Contexts([State; 32]);

impl Contexts {
    /// Table D.7.
    pub fn new() -> Self {
        let mut states = [STATES[0]; 32];
        states[0] = STATES[2 * 4];
        states[RUN] = STATES[2 * 3];
        states[UNIFORM] = STATES[2 * 46];
        Self(states)
    }
}

/// Whatever gives decisions: significance and refinement in a context, and signs.
pub(super) trait Decisions {
    fn decide(&mut self, context: usize) -> bool;
    /// Whether a sample is negative; `turned` says that the opposite is coded.
    fn sign(&mut self, context: usize, turned: bool) -> bool;
}

/// The arithmetic decoder over one segment, which `AFTER` follows.
#[derive(Clone)]
pub(super) struct Arithmetic<'a> {
    octets: &'a [u8],
    at: usize,
    code: u32,
    /// In the upper half, as it is compared with the code's.
    interval: u32,
    /// Shifts until the next octet is needed.
    shifts: u32,
    pub contexts: Contexts,
}

impl<'a> Arithmetic<'a> {
    /// Procedure INITDEC.
    pub fn new(octets: &'a [u8], contexts: Contexts) -> Self {
        let first = u32::from(octets.first().copied().unwrap_or(AFTER[0])) << 16;
        let (at, code, shifts) = next_octet(octets, 0, first);
        Self {
            octets,
            at,
            code: code << 7,
            interval: 0x8000 << 16,
            shifts: shifts - 7,
            contexts,
        }
    }

    /// Procedure RENORMD.
    #[inline(always)]
    fn renormalize(&mut self) {
        let mut missing = self.interval.leading_zeros();
        self.interval <<= missing;
        while missing > self.shifts {
            missing -= self.shifts;
            self.code <<= self.shifts;
            (self.at, self.code, self.shifts) = next_octet(self.octets, self.at, self.code);
        }
        self.code <<= missing;
        self.shifts -= missing;
    }
}

/// Procedure BYTEIN: where the last octet read is, the code, and shifts until the next one is needed. Apart, so that who decides keeps
/// its numbers in registers.
#[inline(never)]
fn next_octet(octets: &[u8], at: usize, code: u32) -> (usize, u32, u32) {
    let octet = |at: usize| u32::from(octets.get(at).copied().unwrap_or(AFTER[0]));
    let next = octet(at + 1);
    if octet(at) != 0xff {
        (at + 1, code.wrapping_add(next << 8), 8)
    } else if next > 0x8f {
        (at, code.wrapping_add(0xff00), 8)
    } else {
        (at + 1, code.wrapping_add(next << 9), 7)
    }
}

impl Decisions for Arithmetic<'_> {
    /// Procedure DECODE, without a branch: most decisions cannot be foreseen.
    #[inline(always)]
    fn decide(&mut self, context: usize) -> bool {
        let state = self.contexts.0[context & 31];
        let interval = state & INTERVAL;
        let rest = self.interval - interval;
        let is_upper = self.code >= interval;
        let is_likely = is_upper != (rest < interval);
        // As long as an interval is no less than half, its state is the same.
        let keeps = is_upper && rest >> 31 != 0;
        self.code = select_unpredictable(is_upper, self.code.wrapping_sub(interval), self.code);
        self.interval = select_unpredictable(is_upper, rest, interval);
        let next = select_unpredictable(is_likely, state >> AFTER_LIKELY, state) & 127;
        self.contexts.0[context & 31] = select_unpredictable(keeps, state, STATES[next as usize]);
        self.renormalize();
        ((state >> AFTER_LIKELY) & 1 != 0) == is_likely
    }

    #[inline(always)]
    fn sign(&mut self, context: usize, turned: bool) -> bool {
        self.decide(context) != turned
    }
}

/// Bits as they are: after an octet of ones the next one's first bit is none (D.6).
#[derive(Clone)]
pub(super) struct Plain<'a> {
    octets: &'a [u8],
    at: usize,
    octet: u8,
    left: u32,
}

impl<'a> Plain<'a> {
    pub fn new(octets: &'a [u8]) -> Self {
        Self {
            octets,
            at: 0,
            octet: 0,
            left: 0,
        }
    }

    fn bit(&mut self) -> bool {
        if self.left == 0 {
            self.left = if self.octet == 0xff { 7 } else { 8 };
            self.octet = self.octets.get(self.at).copied().unwrap_or(AFTER[0]);
            self.at += 1;
        }
        self.left -= 1;
        (self.octet >> self.left) & 1 != 0
    }
}

impl Decisions for Plain<'_> {
    fn decide(&mut self, _context: usize) -> bool {
        self.bit()
    }

    fn sign(&mut self, _context: usize, _turned: bool) -> bool {
        self.bit()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // Source: ITU-T T.88, annex H.2, the test sequence of the same coder (from memory: that it comes out says that it is right).
    #[test]
    fn the_standards_test_sequence_is_decoded() {
        let coded = [
            0x84, 0xc7, 0x3b, 0xfc, 0xe1, 0xa1, 0x43, 0x04, 0x02, 0x20, 0x00, 0x00, 0x41, 0x0d, 0xbb, 0x86,
            0xf4, 0x31, 0x7f, 0xff, 0x88, 0xff, 0x37, 0x47, 0x1a, 0xdb, 0x6a, 0xdf, 0xff, 0xac,
        ];
        let expected = [
            0x00, 0x02, 0x00, 0x51, 0x00, 0x00, 0x00, 0xc0, 0x03, 0x52, 0x87, 0x2a, 0xaa, 0xaa, 0xaa, 0xaa,
            0x82, 0xc0, 0x20, 0x00, 0xfc, 0xd7, 0x9e, 0xf6, 0xbf, 0x7f, 0xed, 0x90, 0x4f, 0x46, 0xa3, 0xbf,
        ];
        let mut decoder = Arithmetic::new(&coded, Contexts::new());
        // A context that begins in the table's first row.
        let mut octet = || (0..8).fold(0_u8, |octet, _| (octet << 1) | u8::from(decoder.decide(1)));
        let decoded: Vec<u8> = expected.iter().map(|_| octet()).collect();
        assert_eq!(decoded, expected);
    }

    // By definition: seven bits follow an octet of ones.
    #[test]
    fn plain_bits_leave_out_the_one_after_an_octet_of_ones() {
        let mut plain = Plain::new(&[0b1010_0000, 0xff, 0b0101_0101]);
        let bits: Vec<u8> = (0..23).map(|_| u8::from(plain.decide(0))).collect();
        assert_eq!(bits[..8], [1, 0, 1, 0, 0, 0, 0, 0]);
        assert_eq!(bits[8..16], [1; 8]);
        assert_eq!(bits[16..], [1, 0, 1, 0, 1, 0, 1]);
    }
}
