//! The markers of a code stream: how its image is cut and coded, and which octets are each tile's packets.
//!
//! Marker layout: ISO/IEC 15444-1 annex A. Must not know: packets, code blocks, samples. What is valid and is not read here is named as such.

use super::Failure;
use super::geometry::Rect;
use std::ops::Range;

/// Image and tile size; the default coding and quantization; a tile-part's head and its data; the end.
const SIZE: u16 = 0xff51;
const CODING: u16 = 0xff52;
const QUANTIZATION: u16 = 0xff5c;
const TILE_PART: u16 = 0xff90;
const DATA: u16 = 0xff93;
const END: u16 = 0xffd9;
/// Lengths of tile-parts and packets, registration, comments: nothing that decoding needs.
const REMARKS: [u16; 5] = [0xff55, 0xff57, 0xff58, 0xff63, 0xff64];
/// Most decompositions (table A.15).
const MOST_LEVELS: u8 = 32;
/// Bit-planes that a coefficient may have here: with its sign and the half below its last bit it fits 32 bits.
const MOST_PLANES: u32 = 30;

/// How packets follow one another (table A.16). With one component two of the five orders are the same.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Order {
    LayerResolution,
    ResolutionLayer,
    ResolutionPosition,
    PositionResolution,
}

/// Variants of coding a block (table A.19).
#[derive(Clone, Copy, Debug)]
pub(super) struct Style {
    pub bypass: bool,
    pub resets: bool,
    pub terminates: bool,
    pub causal: bool,
    pub marks_segments: bool,
}

/// What the main header says of every tile.
#[derive(Debug)]
pub(super) struct Coding {
    pub levels: u32,
    pub layers: u32,
    pub order: Order,
    pub style: Style,
    /// Exponents of a code block's width and height.
    pub block: (u32, u32),
    /// Exponents of a precinct's width and height at each resolution.
    pub precincts: Vec<(u32, u32)>,
    /// Bit-planes of each band, the lowest first, then three of every resolution.
    pub planes: Vec<u32>,
    pub may_have_packet_starts: bool,
    pub has_header_ends: bool,
}

/// The image and what is known of its tiles.
pub(super) struct Stream {
    pub image: Rect,
    /// The first tile's corner and the tiles' width and height.
    pub tiles: Tiling,
    /// Bits of a sample.
    pub depth: u32,
    pub coding: Coding,
    /// The octets of packets in each tile-part, with the tile's number, in the order of tiles.
    pub parts: Vec<(u16, Range<usize>)>,
}

/// The tiles' grid.
pub(super) struct Tiling {
    corner: (u64, u64),
    size: (u64, u64),
    columns: u64,
    /// How many there are.
    pub count: u64,
}

impl Tiling {
    /// What of the image is a tile's.
    pub fn rect(&self, number: u64, image: &Rect) -> Rect {
        let (column, row) = (number % self.columns, number / self.columns);
        let (x0, y0) = (
            self.corner.0 + column * self.size.0,
            self.corner.1 + row * self.size.1,
        );
        Rect {
            x0,
            y0,
            x1: x0 + self.size.0,
            y1: y0 + self.size.1,
        }
        .within(image)
    }
}

/// Octets read one after another.
struct Octets<'a> {
    octets: &'a [u8],
    at: usize,
}

impl<'a> Octets<'a> {
    fn take(&mut self, count: usize) -> Result<&'a [u8], Failure> {
        let taken = self.octets.get(self.at..).and_then(|rest| rest.get(..count));
        self.at += count;
        taken.ok_or(Failure::Broken("ends within its markers"))
    }

    fn number(&mut self, count: usize) -> Result<u64, Failure> {
        Ok(self
            .take(count)?
            .iter()
            .fold(0, |sum, &octet| (sum << 8) | u64::from(octet)))
    }

    fn u8(&mut self) -> Result<u8, Failure> {
        Ok(self.take(1)?[0])
    }

    fn u16(&mut self) -> Result<u16, Failure> {
        Ok(self.number(2)? as u16)
    }

    /// The octets of a marker's segment after its length.
    fn segment(&mut self) -> Result<Octets<'a>, Failure> {
        let length = usize::from(self.u16()?);
        let rest = length
            .checked_sub(2)
            .ok_or(Failure::Broken("has a marker of no length"))?;
        Ok(Octets {
            octets: self.take(rest)?,
            at: 0,
        })
    }
}

/// Reads all markers of a stream whose size and ends have been checked. It ends with its end marker, and zeros at most.
pub(super) fn read(octets: &[u8]) -> Result<Stream, Failure> {
    let ends = octets
        .iter()
        .rposition(|&octet| octet != 0)
        .map_or(0, |last| last + 1);
    let mut main = Octets {
        octets: &octets[..ends],
        at: 2,
    };
    let (mut size, mut coding, mut exponents) = (None, None, None);
    loop {
        match main.u16()? {
            SIZE => size = Some(read_size(&mut main.segment()?)?),
            CODING => coding = Some(read_coding(&mut main.segment()?)?),
            QUANTIZATION => exponents = Some(read_quantization(&mut main.segment()?)?),
            TILE_PART => break,
            marker => skip(marker, &mut main)?,
        }
    }
    let missing = Failure::Broken("does not say how it is coded");
    let ((image, tiles, depth), mut coding, (guard, exponents)) = size
        .zip(coding)
        .zip(exponents)
        .map(|((size, coding), rest)| (size, coding, rest))
        .ok_or(missing)?;
    coding.planes = planes(guard, exponents, coding.levels)?;
    let mut parts = Vec::new();
    loop {
        parts.push(read_part(&mut main, tiles.count)?);
        match main.u16()? {
            TILE_PART => {}
            END if main.at == ends => break,
            _ => return Err(Failure::Broken("has octets outside its tiles")),
        }
    }
    // Stable: a tile's parts stay in their order.
    parts.sort_by_key(|(tile, _)| *tile);
    Ok(Stream {
        image,
        tiles,
        depth,
        coding,
        parts,
    })
}

fn skip(marker: u16, octets: &mut Octets<'_>) -> Result<(), Failure> {
    match marker {
        _ if REMARKS.contains(&marker) => octets.segment().map(|_| ()),
        0xff50..=0xff63 => Err(Failure::Elsewhere),
        _ => Err(Failure::Broken("has an unknown marker")),
    }
}

fn read_size(octets: &mut Octets<'_>) -> Result<(Rect, Tiling, u32), Failure> {
    octets.u16()?;
    let mut word = || octets.number(4);
    let (x1, y1, x0, y0) = (word()?, word()?, word()?, word()?);
    let (size, corner) = ((word()?, word()?), (word()?, word()?));
    let nothing = corner.0 > x0 || corner.1 > y0 || corner.0 + size.0 <= x0 || corner.1 + size.1 <= y0;
    if nothing || size.0 == 0 || size.1 == 0 {
        return Err(Failure::Broken("has a first tile without a point"));
    }
    let (columns, rows) = ((x1 - corner.0).div_ceil(size.0), (y1 - corner.1).div_ceil(size.1));
    octets.u16()?;
    let depth = u32::from(octets.u8()? & 0x7f) + 1;
    let tiles = Tiling {
        corner,
        size,
        columns,
        count: columns * rows,
    };
    Ok((Rect { x0, y0, x1, y1 }, tiles, depth))
}

fn read_coding(octets: &mut Octets<'_>) -> Result<Coding, Failure> {
    let flags = octets.u8()?;
    let order = match octets.u8()? {
        0 => Order::LayerResolution,
        1 => Order::ResolutionLayer,
        2 => Order::ResolutionPosition,
        3 | 4 => Order::PositionResolution,
        _ => return Err(Failure::Broken("has packets in an unknown order")),
    };
    let (layers, mixes, levels) = (u32::from(octets.u16()?), octets.u8()?, octets.u8()?);
    let (width, height) = (u32::from(octets.u8()?) + 2, u32::from(octets.u8()?) + 2);
    let (style, transform) = (octets.u8()?, octets.u8()?);
    if layers == 0 || levels > MOST_LEVELS || width > 10 || height > 10 || width + height > 12 {
        return Err(Failure::Broken(
            "has layers, levels or code blocks that do not exist",
        ));
    }
    // Several components, block coders of later parts, the irreversible transform.
    if mixes != 0 || style & 0xc0 != 0 || transform != 1 {
        return Err(Failure::Elsewhere);
    }
    let mut precincts = vec![(15, 15); usize::from(levels) + 1];
    if flags & 1 != 0 {
        for (resolution, precinct) in precincts.iter_mut().enumerate() {
            let exponents = octets.u8()?;
            *precinct = (u32::from(exponents & 15), u32::from(exponents >> 4));
            if resolution > 0 && (precinct.0 == 0 || precinct.1 == 0) {
                return Err(Failure::Broken("has precincts that do not exist"));
            }
        }
    }
    Ok(Coding {
        levels: levels.into(),
        layers,
        order,
        style: Style {
            bypass: style & 0x01 != 0,
            resets: style & 0x02 != 0,
            terminates: style & 0x04 != 0,
            causal: style & 0x08 != 0,
            marks_segments: style & 0x20 != 0,
        },
        block: (width, height),
        precincts,
        planes: Vec::new(),
        may_have_packet_starts: flags & 2 != 0,
        has_header_ends: flags & 4 != 0,
    })
}

/// Guard bits, and the exponents of bands that are not quantized.
fn read_quantization<'a>(octets: &mut Octets<'a>) -> Result<(u32, &'a [u8]), Failure> {
    let style = octets.u8()?;
    if style & 0x1f != 0 {
        return Err(Failure::Elsewhere);
    }
    Ok((u32::from(style >> 5), octets.octets.get(1..).unwrap_or_default()))
}

/// Equation E-2: the bit-planes of each band.
fn planes(guard: u32, exponents: &[u8], levels: u32) -> Result<Vec<u32>, Failure> {
    let bands = 3 * levels as usize + 1;
    let exponents = exponents
        .get(..bands)
        .ok_or(Failure::Broken("does not say how wide coefficients are"))?;
    let planes = |octet: &u8| (guard + u32::from(octet >> 3)).saturating_sub(1);
    let planes: Vec<u32> = exponents.iter().map(planes).collect();
    match planes.iter().any(|planes| *planes > MOST_PLANES) {
        true => Err(Failure::Elsewhere),
        false => Ok(planes),
    }
}

/// One tile-part after its marker: the tile's number, and where its packets are.
fn read_part(octets: &mut Octets<'_>, tiles: u64) -> Result<(u16, Range<usize>), Failure> {
    let starts = octets.at - 2;
    let mut head = octets.segment()?;
    let (tile, length) = (head.u16()?, head.number(4)? as usize);
    if u64::from(tile) >= tiles {
        return Err(Failure::Broken("has more tiles than its size"));
    }
    let ends = match length {
        0 => octets.octets.len() - 2,
        _ => starts.saturating_add(length),
    };
    loop {
        match octets.u16()? {
            DATA => break,
            marker => skip(marker, octets)?,
        }
    }
    if ends < octets.at || ends > octets.octets.len() {
        return Err(Failure::Broken(
            "has a tile-part that ends before it begins, or beyond the stream",
        ));
    }
    let data = octets.at..ends;
    octets.at = ends;
    Ok((tile, data))
}
