//! Which context a decision is coded in, by the significance and signs around a sample.
//!
//! Tables D.1 to D.4 of ISO/IEC 15444-1, from memory; that they are right is seen by decoding others' streams.
//!
//! Eight neighbours and a sample between them are nine bits, row by row: the three above are bits 0 to 2, left and right bits 3 and 5.

/// Contexts beside those of significance (0 to 8), sign (9 to 13) and refinement (14 to 16).
pub(super) const RUN: usize = 17;
pub(super) const UNIFORM: usize = 18;
/// The neighbours among the nine bits.
pub(super) const AROUND: u64 = 0x1ef;
/// The neighbours that share an edge: above, left, right, below.
pub(super) const BESIDE: u64 = 0xaa;

/// A band: low or high frequencies across, then down.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    LowLow,
    HighLow,
    LowHigh,
    HighHigh,
}

impl Kind {
    pub fn is_high_across(self) -> bool {
        matches!(self, Self::HighLow | Self::HighHigh)
    }

    pub fn is_high_down(self) -> bool {
        matches!(self, Self::LowHigh | Self::HighHigh)
    }

    /// The context of a sample's significance by the nine bits.
    pub fn significance(self) -> &'static [u8; 512] {
        match self {
            Self::LowLow | Self::LowHigh => &LOW_ACROSS,
            Self::HighLow => &HIGH_ACROSS,
            Self::HighHigh => &HIGH_BOTH,
        }
    }
}

static LOW_ACROSS: [u8; 512] = significance(Kind::LowHigh);
static HIGH_ACROSS: [u8; 512] = significance(Kind::HighLow);
static HIGH_BOTH: [u8; 512] = significance(Kind::HighHigh);
/// The context of a sign in the lower bits, and in bit 7 whether it is turned. The index: significance of the neighbours beside in bits 1, 3, 5
/// and 7, and one bit below each of them whether the neighbour is negative.
pub(super) static SIGN: [u8; 256] = sign();
/// That a sign is turned.
pub(super) const TURNED: u8 = 0x80;

/// Table D.1: by how many neighbours left and right, above and below, and across corners are significant.
const fn significance(kind: Kind) -> [u8; 512] {
    let mut contexts = [0; 512];
    let mut nine = 0;
    while nine < 512 {
        let side = bit(nine, 3) + bit(nine, 5);
        let above = bit(nine, 1) + bit(nine, 7);
        let corners = bit(nine, 0) + bit(nine, 2) + bit(nine, 6) + bit(nine, 8);
        contexts[nine] = match kind {
            Kind::HighHigh => both_high(side + above, corners),
            Kind::HighLow => one_high(above, side, corners),
            Kind::LowLow | Kind::LowHigh => one_high(side, above, corners),
        };
        nine += 1;
    }
    contexts
}

const fn bit(of: usize, at: usize) -> u8 {
    ((of >> at) & 1) as u8
}

const fn one_high(along: u8, other: u8, corners: u8) -> u8 {
    match (along, other, corners) {
        (2, _, _) => 8,
        (1, 1.., _) => 7,
        (1, 0, 1..) => 6,
        (1, 0, 0) => 5,
        (_, 2, _) => 4,
        (_, 1, _) => 3,
        (_, _, 2..) => 2,
        (_, _, corners) => corners,
    }
}

const fn both_high(beside: u8, corners: u8) -> u8 {
    match (corners, beside) {
        (3.., _) => 8,
        (2, 1..) => 7,
        (2, 0) => 6,
        (1, 2..) => 5,
        (1, beside) => 3 + beside,
        (_, 2..) => 2,
        (_, beside) => beside,
    }
}

/// Tables D.2 and D.3.
const fn sign() -> [u8; 256] {
    let mut contexts = [0; 256];
    let mut index = 0;
    while index < 256 {
        let (above, left) = (neighbour(index, 1), neighbour(index, 3));
        let (right, below) = (neighbour(index, 5), neighbour(index, 7));
        contexts[index] = match (toward(left + right), toward(above + below)) {
            (1, 1) => 13,
            (1, 0) => 12,
            (1, -1) => 11,
            (0, 1) => 10,
            (0, 0) => 9,
            (0, -1) => 10 | TURNED,
            (-1, 1) => 11 | TURNED,
            (-1, 0) => 12 | TURNED,
            _ => 13 | TURNED,
        };
        index += 1;
    }
    contexts
}

/// One of a positive, minus one of a negative neighbour.
const fn neighbour(index: usize, at: usize) -> i8 {
    match (bit(index, at), bit(index, at - 1)) {
        (0, _) => 0,
        (_, 0) => 1,
        _ => -1,
    }
}

const fn toward(sum: i8) -> i8 {
    match sum {
        1.. => 1,
        0 => 0,
        _ => -1,
    }
}
