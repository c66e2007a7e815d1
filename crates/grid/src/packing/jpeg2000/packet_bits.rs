//! The bits of packet headers, and the tag trees in them (sections B.10.1 and B.10.2 of ISO/IEC 15444-1).
//!
//! Must not know: what the numbers are.

use super::Failure;

const ENDS: Failure = Failure::Broken("ends within a packet's header");
/// No number in a tree is larger: layers, or bit-planes of nothing.
const MOST: u16 = u16::MAX;

/// Bits one after another; the octet after one of eight ones has seven.
pub(super) struct PacketBits<'a> {
    octets: &'a [u8],
    at: usize,
    octet: u8,
    left: u32,
}

impl<'a> PacketBits<'a> {
    /// From an octet on.
    pub fn new(octets: &'a [u8], at: usize) -> Self {
        Self {
            octets,
            at,
            octet: 0,
            left: 0,
        }
    }

    #[inline]
    pub fn bit(&mut self) -> Result<bool, Failure> {
        if self.left == 0 {
            self.left = if self.octet == 0xff { 7 } else { 8 };
            self.octet = *self.octets.get(self.at).ok_or(ENDS)?;
            self.at += 1;
        }
        self.left -= 1;
        Ok((self.octet >> self.left) & 1 != 0)
    }

    /// At most 32 bits.
    pub fn number(&mut self, bits: u32) -> Result<u32, Failure> {
        (0..bits).try_fold(0, |number, _| Ok((number << 1) | u32::from(self.bit()?)))
    }

    /// The first octet after the header.
    pub fn end(self) -> usize {
        // An octet of eight ones is never the last.
        self.at + usize::from(self.octet == 0xff)
    }
}

/// What is known of one number of a tree: it is not less than this, or is this.
#[derive(Clone, Copy, Default)]
pub(super) struct Node {
    at_least: u16,
    is_known: bool,
}

/// How a tree over so many columns and rows lies in a list of nodes: the leaves first, then each level's fours together, up to the root.
pub(super) struct TreeShape {
    /// Where each level begins, and its columns; from the leaves on.
    levels: [(usize, usize); Self::MOST_LEVELS],
    count: usize,
    nodes: usize,
}

impl TreeShape {
    /// A precinct has at most 2^15 columns of blocks, and as many rows.
    const MOST_LEVELS: usize = 16;

    pub fn new(mut columns: usize, mut rows: usize) -> Self {
        let (mut levels, mut count, mut nodes) = ([(0, 0); Self::MOST_LEVELS], 0, 0);
        for level in &mut levels {
            *level = (nodes, columns);
            nodes += columns * rows;
            count += 1;
            if columns * rows <= 1 {
                break;
            }
            (columns, rows) = (columns.div_ceil(2), rows.div_ceil(2));
        }
        Self { levels, count, nodes }
    }

    /// Nodes of the whole tree.
    pub fn nodes(&self) -> usize {
        self.nodes
    }

    /// A leaf's number, if it is less than the bound; as few bits are read as tell.
    pub fn below(
        &self,
        nodes: &mut [Node],
        (column, row): (usize, usize),
        bound: u16,
        bits: &mut PacketBits<'_>,
    ) -> Result<Option<u16>, Failure> {
        let mut least = 0;
        let mut is_known = false;
        for level in (0..self.count).rev() {
            let (starts, columns) = self.levels[level];
            let node = &mut nodes[starts + (row >> level) * columns + (column >> level)];
            least = node.at_least.max(least);
            while !node.is_known && least < bound {
                match bits.bit()? {
                    true => node.is_known = true,
                    false => least += 1,
                }
            }
            node.at_least = least;
            is_known = node.is_known;
            if !is_known {
                break;
            }
        }
        Ok((is_known && least < bound).then_some(least))
    }

    /// A leaf's number.
    pub fn number(
        &self,
        nodes: &mut [Node],
        leaf: (usize, usize),
        bits: &mut PacketBits<'_>,
    ) -> Result<u16, Failure> {
        let number = self.below(nodes, leaf, MOST, bits)?;
        number.ok_or(Failure::Broken("has a number without end in a packet's header"))
    }
}
