//! Whole numbers of any width out of octets, most significant bit first, as every packing writes them (regulation 92.9.4).
//!
//! Must not know: what the numbers are. Bits beyond the end read as zero: who reads them has checked that none is wanted.

/// Bits of a window that are the octets' wherever it begins.
pub(super) const WINDOW: u32 = 57;

/// Octets read bit by bit. A position is a number of bits from the first octet's most significant one.
#[derive(Clone, Copy)]
pub(super) struct Bits<'a>(pub &'a [u8]);

impl Bits<'_> {
    /// All there are.
    pub fn count(self) -> u64 {
        8 * self.0.len() as u64
    }

    /// The 64 bits from a position on; the last up to seven are zeros.
    #[inline]
    pub fn window(self, from: u64) -> u64 {
        let first = (from / 8) as usize;
        let eight = match self.0.get(first..first + 8) {
            Some(eight) => eight.try_into().map_or(0, u64::from_be_bytes),
            None => self.last_octets(first),
        };
        eight << (from % 8)
    }

    /// A number of at most 57 bits.
    #[inline]
    pub fn number(self, from: u64, width: u32) -> u64 {
        // Shifted twice, as no shift is by all 64 bits.
        self.window(from) >> 1 >> (63 - width)
    }

    #[cold]
    fn last_octets(self, first: usize) -> u64 {
        let octet = |at: usize| u64::from(self.0.get(first + at).copied().unwrap_or_default());
        (0..8).fold(0, |window, at| (window << 8) | octet(at))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // By definition, against one bit at a time.
    #[test]
    fn a_number_is_its_bits_wherever_it_begins_and_ends() {
        let octets: Vec<u8> = (0..24_u32).map(|at| (at * 151 + 43) as u8).collect();
        let bit = |at: u64| {
            octets
                .get((at / 8) as usize)
                .map_or(0, |octet| u64::from(octet >> (7 - at % 8)) & 1)
        };
        for from in 0..200 {
            for width in 0..=57_u64 {
                let expected = (from..from + width).fold(0, |sum, at| (sum << 1) | bit(at));
                assert_eq!(
                    Bits(&octets).number(from, width as u32),
                    expected,
                    "{from} {width}"
                );
            }
        }
    }
}
