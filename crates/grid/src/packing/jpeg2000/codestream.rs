//! The markers of a code stream: how large its image and tiles are, and which octets are each tile's packets.
//!
//! Marker layout: ISO/IEC 15444-1 annex A. Must not know: how anything is coded. What is valid and is not read here is named as such.

use super::Failure;
use super::coding::Said;
use super::geometry::Rect;
use std::ops::Range;

/// Image and tile size; a tile-part's head and its data; the end.
const SIZE: u16 = 0xff51;
const TILE_PART: u16 = 0xff90;
const DATA: u16 = 0xff93;
const END: u16 = 0xffd9;
/// Lengths of tile-parts and packets, registration, comments: nothing that decoding needs.
const REMARKS: [u16; 5] = [0xff55, 0xff57, 0xff58, 0xff63, 0xff64];
/// A region of interest, whose coefficients are shifted; the `grib` crate would take them as they are.
const REGION: u16 = 0xff5e;
/// Capabilities of later parts, changes of order, headers of packets apart.
const RARE: [u16; 4] = [0xff50, 0xff5f, 0xff60, 0xff61];

/// The image and what is known of its tiles.
pub(super) struct Stream {
    pub image: Rect,
    /// The first tile's corner and the tiles' width and height.
    pub tiles: Tiling,
    /// Bits of a sample.
    pub depth: u32,
    /// What the main header says of all tiles.
    pub said: Said,
    /// In the order of tiles.
    pub parts: Vec<TilePart>,
}

/// A part of a tile.
pub(super) struct TilePart {
    /// The tile's number.
    pub tile: u16,
    /// What it says of the tile's coding, if anything.
    pub said: Option<Box<Said>>,
    /// The octets of its packets.
    pub packets: Range<usize>,
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
pub(super) struct Octets<'a> {
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

    pub fn u8(&mut self) -> Result<u8, Failure> {
        Ok(self.take(1)?[0])
    }

    pub fn u16(&mut self) -> Result<u16, Failure> {
        Ok(self.number(2)? as u16)
    }

    /// All that are left.
    pub fn rest(&self) -> &'a [u8] {
        self.octets.get(self.at..).unwrap_or_default()
    }

    /// The octets of a marker's segment after its length.
    pub fn segment(&mut self) -> Result<Octets<'a>, Failure> {
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
    let (mut size, mut said) = (None, Said::default());
    loop {
        match main.u16()? {
            SIZE if size.is_none() => size = Some(read_size(&mut main.segment()?)?),
            TILE_PART => break,
            marker if said.read(marker, &mut main)? => {}
            marker => skip(marker, &mut main)?,
        }
    }
    let (image, tiles, depth) = size.ok_or(Failure::Broken("does not say its size"))?;
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
    parts.sort_by_key(|part| part.tile);
    Ok(Stream {
        image,
        tiles,
        depth,
        said,
        parts,
    })
}

fn skip(marker: u16, octets: &mut Octets<'_>) -> Result<(), Failure> {
    match marker {
        _ if REMARKS.contains(&marker) => octets.segment().map(|_| ()),
        REGION => match octets.segment()?.rest() {
            [_, _, 0] => Ok(()),
            _ => Err(Failure::Broken("has a region of interest, as no field has")),
        },
        _ if RARE.contains(&marker) => Err(Failure::Elsewhere),
        _ => Err(Failure::Broken(
            "has a marker that is unknown or out of its place",
        )),
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

/// One tile-part after its marker.
fn read_part(octets: &mut Octets<'_>, tiles: u64) -> Result<TilePart, Failure> {
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
    let mut said: Option<Box<Said>> = None;
    loop {
        match octets.u16()? {
            DATA => break,
            marker if said.get_or_insert_default().read(marker, octets)? => {}
            marker => skip(marker, octets)?,
        }
    }
    if ends < octets.at || ends > octets.octets.len() {
        return Err(Failure::Broken(
            "has a tile-part that ends before it begins, or beyond the stream",
        ));
    }
    let packets = octets.at..ends;
    octets.at = ends;
    Ok(TilePart { tile, said, packets })
}
