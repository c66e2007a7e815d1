//! Packets: which code block has which octets and passes.
//!
//! All of them are walked, whatever is wanted, since each begins where the one before ends; that the last one ends where the tile does tells of most
//! damage. What is kept is of wanted blocks alone.
//!
//! Sections B.9 and B.10 of ISO/IEC 15444-1. Must not know: in which order packets come, how passes are coded.

use super::Failure;
use super::codestream::TilePart;
use super::coding::Coding;
use super::geometry::Tile;
use super::packet_bits::{Node, PacketBits, TreeShape};
use super::passes::segment_of;
use super::progression::{Packet, each_packet};
use std::ops::Range;

/// Markers before a packet (with its length and number) and after its header.
const STARTS: [u8; 2] = [0xff, 0x91];
const STARTS_OCTETS: usize = 6;
const HEADER_ENDS: [u8; 2] = [0xff, 0x92];
/// Bits of a length: no packet is this long.
const MOST_LENGTH_BITS: u32 = 31;
/// Looks at a block in packet headers that each block and each octet allow for.
const LOOKS_A_BLOCK: usize = 8;
const LOOKS_AN_OCTET: usize = 16;
const NONE: u32 = u32::MAX;

/// What packets say of a code block.
#[derive(Clone, Copy, Debug)]
pub(super) struct Block {
    /// Whether a wanted sample needs it.
    pub is_wanted: bool,
    is_included: bool,
    /// Bit-planes of nothing above those that are coded.
    pub empty_planes: u8,
    pub passes: u8,
    length_bits: u8,
    first: u32,
    last: u32,
}

impl Block {
    pub const NEW: Self = Self {
        is_wanted: false,
        is_included: false,
        empty_planes: 0,
        passes: 0,
        length_bits: 3,
        first: NONE,
        last: NONE,
    };
}

/// Octets of a block out of one packet and segment.
struct Part {
    passes: u8,
    octets: Range<u32>,
    /// The block's next one.
    next: u32,
}

/// Octets of the wanted blocks.
#[derive(Default)]
pub(super) struct Parts(Vec<Part>);

impl Parts {
    /// Passes and octets of a block, in order.
    pub fn of(&self, block: &Block) -> impl Iterator<Item = (usize, Range<usize>)> {
        let part = |number: u32| self.0.get(number as usize);
        std::iter::successors(part(block.first), move |before| part(before.next)).map(|part| {
            (
                part.passes.into(),
                part.octets.start as usize..part.octets.end as usize,
            )
        })
    }

    fn add(&mut self, block: &mut Block, part: Part) {
        let number = self.0.len() as u32;
        match self.0.get_mut(block.last as usize) {
            Some(last) => last.next = number,
            None => block.first = number,
        }
        block.last = number;
        self.0.push(part);
    }
}

/// Walks all packets of a tile, of whose blocks the wanted ones are marked.
pub(super) fn walk(
    tile: &Tile,
    coding: &Coding,
    octets: &[u8],
    parts: &[TilePart],
    blocks: &mut [Block],
) -> Result<Parts, Failure> {
    let available: usize = parts.iter().map(|part| part.packets.len()).sum();
    let precincts: usize = tile
        .resolutions
        .iter()
        .map(|resolution| resolution.precincts.count())
        .sum();
    // Every packet has an octet at least.
    if precincts.saturating_mul(coding.packets.layers as usize) > available {
        return Err(Failure::Broken("has fewer octets than packets"));
    }
    let mut walk = Walk {
        octets,
        coding,
        tile,
        blocks,
        parts,
        at: 0..0,
        trees: Trees::new(tile),
        found: Parts::default(),
        coming: Vec::new(),
        looks: LOOKS_AN_OCTET * available + LOOKS_A_BLOCK * tile.blocks,
    };
    each_packet(tile, coding, |packet| walk.packet(packet))?;
    match walk.at.is_empty() && walk.parts.iter().all(|part| part.packets.is_empty()) {
        true => Ok(walk.found),
        false => Err(Failure::Broken("has octets after its packets")),
    }
}

/// Tag trees of precincts, two for each band: in which layer a block is first, and how many of its bit-planes are empty.
struct Trees {
    /// Of each resolution: where the trees of each precinct's bands begin, if they are there yet.
    starts: Vec<Vec<u32>>,
    nodes: Vec<Node>,
}

impl Trees {
    fn new(tile: &Tile) -> Self {
        let of_resolution = |resolution: &super::geometry::Resolution| {
            vec![NONE; resolution.precincts.count() * resolution.bands.len()]
        };
        Self {
            starts: tile.resolutions.iter().map(of_resolution).collect(),
            nodes: Vec::new(),
        }
    }

    fn of(&mut self, resolution: usize, which: usize, shape: &TreeShape) -> (&mut [Node], &mut [Node]) {
        let starts = &mut self.starts[resolution][which];
        if *starts == NONE {
            *starts = self.nodes.len() as u32;
            self.nodes
                .resize(self.nodes.len() + 2 * shape.nodes(), Node::default());
        }
        self.nodes[*starts as usize..][..2 * shape.nodes()].split_at_mut(shape.nodes())
    }
}

struct Walk<'a> {
    octets: &'a [u8],
    coding: &'a Coding,
    tile: &'a Tile,
    blocks: &'a mut [Block],
    /// Parts of the tile that were not begun, and what is left of the one that was.
    parts: &'a [TilePart],
    at: Range<usize>,
    trees: Trees,
    found: Parts,
    /// Blocks whose octets follow a packet's header, with passes and lengths.
    coming: Vec<(u32, u8, u32)>,
    looks: usize,
}

impl Walk<'_> {
    fn packet(&mut self, packet: Packet) -> Result<(), Failure> {
        while self.at.is_empty() {
            let (next, others) = self
                .parts
                .split_first()
                .ok_or(Failure::Broken("ends before its packets"))?;
            (self.at, self.parts) = (next.packets.clone(), others);
        }
        let here = &self.octets[..self.at.end];
        if self.coding.packets.may_have_starts && here[self.at.start..].starts_with(&STARTS) {
            self.at.start += STARTS_OCTETS;
        }
        let mut bits = PacketBits::new(here, self.at.start);
        self.coming.clear();
        if bits.bit()? {
            for band in 0..self.tile.resolutions[packet.resolution].bands.len() {
                self.band(packet, band, &mut bits)?;
            }
        }
        let mut starts = bits.end();
        if self.coding.packets.has_header_ends {
            if !here
                .get(starts..)
                .is_some_and(|rest| rest.starts_with(&HEADER_ENDS))
            {
                return Err(Failure::Broken("has a packet's header without its end"));
            }
            starts += HEADER_ENDS.len();
        }
        for &(block, passes, length) in &self.coming {
            let ends = starts + length as usize;
            if ends > self.at.end {
                return Err(Failure::Broken("ends within a code block"));
            }
            let block = &mut self.blocks[block as usize];
            if block.is_wanted {
                let part = Part {
                    passes,
                    octets: starts as u32..ends as u32,
                    next: NONE,
                };
                self.found.add(block, part);
            }
            starts = ends;
        }
        if starts > self.at.end {
            return Err(Failure::Broken("ends within a packet's header"));
        }
        self.at.start = starts;
        Ok(())
    }

    /// What a packet's header says of one band.
    fn band(&mut self, packet: Packet, number: usize, bits: &mut PacketBits<'_>) -> Result<(), Failure> {
        let resolution = &self.tile.resolutions[packet.resolution];
        let band = &resolution.bands[number];
        let (column, row) = resolution.precinct(packet.precinct);
        let part = band.precinct(column, row);
        if part.is_empty() {
            return Ok(());
        }
        let (columns, rows) = band.cells.that_hold(&part);
        let looks = columns.len() * rows.len();
        self.looks = self
            .looks
            .checked_sub(looks)
            .ok_or(Failure::Broken("has too many code blocks in its packets"))?;
        let shape = TreeShape::new(columns.len(), rows.len());
        let which = packet.precinct * resolution.bands.len() + number;
        for cell_row in rows.clone() {
            for cell_column in columns.clone() {
                let index = band.first_block + cell_row * band.cells.columns + cell_column;
                let leaf = (cell_column - columns.start, cell_row - rows.start);
                let (inclusion, empty_planes) = self.trees.of(packet.resolution, which, &shape);
                let block = &mut self.blocks[index];
                if block.is_included {
                    if !bits.bit()? {
                        continue;
                    }
                } else {
                    let bound = packet.layer as u16 + 1;
                    if shape.below(inclusion, leaf, bound, bits)?.is_none() {
                        continue;
                    }
                    block.is_included = true;
                    let empty = shape.number(empty_planes, leaf, bits)?;
                    block.empty_planes = u8::try_from(empty)
                        .ok()
                        .filter(|empty| u32::from(*empty) < band.planes)
                        .ok_or(Failure::Broken("has a code block without a bit-plane"))?;
                }
                let planes = band.planes - u32::from(block.empty_planes);
                passes_and_lengths(block, planes, index as u32, self.coding, bits, &mut self.coming)?;
            }
        }
        Ok(())
    }
}

/// How many passes of a block a packet has, in which segments, and how long these are (sections B.10.6 and B.10.7).
fn passes_and_lengths(
    block: &mut Block,
    planes: u32,
    number: u32,
    coding: &Coding,
    bits: &mut PacketBits<'_>,
    coming: &mut Vec<(u32, u8, u32)>,
) -> Result<(), Failure> {
    let before = usize::from(block.passes);
    let ends = before + passes(bits)?;
    if ends as u32 > 3 * planes - 2 {
        return Err(Failure::Broken("has a code block of more passes than bit-planes"));
    }
    while bits.bit()? {
        block.length_bits += 1;
        if u32::from(block.length_bits) > MOST_LENGTH_BITS {
            return Err(Failure::Broken("has a code block longer than any"));
        }
    }
    let mut from = before;
    while from < ends {
        let segment = segment_of(from, &coding.cuts.style);
        let mut until = from + 1;
        while until < ends && segment_of(until, &coding.cuts.style) == segment {
            until += 1;
        }
        let passes = (until - from) as u8;
        let width = u32::from(block.length_bits) + passes.ilog2();
        if width > MOST_LENGTH_BITS {
            return Err(Failure::Broken("has a code block longer than any"));
        }
        coming.push((number, passes, bits.number(width)?));
        from = until;
    }
    block.passes = ends as u8;
    Ok(())
}

/// Table B.4.
fn passes(bits: &mut PacketBits<'_>) -> Result<usize, Failure> {
    for (width, escape, first) in [(1, 1, 1), (1, 1, 2), (2, 3, 3), (5, 31, 6), (7, u32::MAX, 37)] {
        let number = bits.number(width)?;
        if number != escape {
            return Ok(first + number as usize);
        }
    }
    Err(Failure::Broken("has a code block of more passes than there are"))
}
