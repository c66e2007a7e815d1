//! JPEG 2000 (template 5.40, data template 7.40): ISO/IEC 15444-1, of which ITU-T T.800 is the same text.
//!
//! An image is halved again and again; what each halving leaves over is cut into code blocks, each coded by itself. Where a block's octets are
//! is found by walking all packet headers; then the blocks alone are decoded that a wanted sample needs, and the transform is undone in windows
//! around wanted samples.
//!
//! Read here: the reversible transform, any tiles, resolutions, layers, precincts, orders of packets and variants of code blocks. Handed to the
//! `grib` crate: the irreversible transform, coefficients of more than 30 bits, and what the markers POC (changes of order), PPM and PPT (headers of packets
//! apart) say. Regions of interest are refused. Streams that end early are damage, as is what is left over after the last packet.
//!
//! Memory: code blocks are counted before there is anything for them, and there are no more than octets and points warrant (a few octets for
//! each 32 points); packets are no more than octets; coefficients are those of blocks that are wanted, and so at most the image's. Time:
//! the blocks that are wanted, in at most 30 bit-planes; each header's look at its blocks is counted and bounded.

mod arithmetic;
mod codestream;
mod coding;
mod contexts;
mod geometry;
mod packet_bits;
mod packets;
mod passes;
mod progression;
mod samples;
mod wavelet;
mod windows;

use super::{Scaling, library, undecodable};
use crate::Damage;
use crate::sections::{FieldSections, Section};
use codestream::{Stream, TilePart};
use forecast::Sample;
use geometry::Tile;
use packets::Block;
use samples::Coefficients;
use windows::{Wanted, mark_blocks};

/// Start of code stream, then the marker of image and tile size.
const START: [u8; 4] = [0xff, 0x4f, 0xff, 0x51];
/// End of code stream.
const END: [u8; 2] = [0xff, 0xd9];
/// The most tiles of an image; producers write one.
const MOST_TILES: u64 = 1024;
/// Code blocks that an image may have besides those that its points and octets warrant.
const FEW_BLOCKS: usize = 1024;
/// Points of an image whose code blocks, all wanted and in as many bit-planes as there are, take a second: twice those of a global grid of 0.25 degrees.
const MOST_POINTS_IN_BOUNDS: usize = 1 << 21;
/// Points that warrant a code block: those of producers have 64 at least.
const POINTS_A_BLOCK: usize = 32;

/// Why a stream is not decoded here.
#[derive(Clone, Copy, Debug)]
enum Failure {
    /// It contradicts itself, or breaks off.
    Broken(&'static str),
    /// It is of a kind that this room does not know.
    Elsewhere,
}

/// The values at these ascending positions among the `count` packed ones.
pub(super) fn values(
    field: &FieldSections<'_>,
    count: usize,
    wanted: &[usize],
    scaling: &Scaling,
) -> Result<Vec<Sample>, Damage> {
    let octets = field.data.rest(6);
    check(&field.data, octets, count)?;
    let value = |integer: i32| Ok(scaling.value_of(integer.into()));
    match integers(octets, wanted) {
        Ok(integers) => super::finite(&field.data, integers.into_iter().map(value).collect()),
        Err(Failure::Elsewhere) => library::values(field, 40, wanted),
        Err(Failure::Broken(what)) => Err(undecodable(field, format!("the JPEG 2000 stream {what}"))),
    }
}

/// True where the image is read here and is none of the largest.
pub(super) fn unpacks_in_bounds(field: &FieldSections<'_>) -> bool {
    let count = field.representation.u32(6).map_or(0, |count| count as usize);
    let octets = field.data.rest(6);
    // What contradicts itself is not unpacked.
    if check(&field.data, octets, count).is_err() {
        return true;
    }
    let read = codestream::read(octets).and_then(|stream| {
        let of_tiles = stream.parts.iter().filter_map(|part| part.said.as_deref());
        let mut said = std::iter::once(&stream.said).chain(of_tiles);
        said.try_for_each(|said| said.over(&stream.said).map(|_| ()))
    });
    count <= MOST_POINTS_IN_BOUNDS && !matches!(read, Err(Failure::Elsewhere))
}

/// The samples at these ascending positions.
fn integers(octets: &[u8], wanted: &[usize]) -> Result<Vec<i32>, Failure> {
    let stream = codestream::read(octets)?;
    let wanted = Wanted {
        image: stream.image,
        positions: wanted,
    };
    let mut integers = vec![0; wanted.positions.len()];
    let mut parts = stream.parts.as_slice();
    for number in 0..stream.tiles.count {
        let of_tile = parts.partition_point(|part| u64::from(part.tile) <= number);
        let (of_tile, others) = parts.split_at(of_tile);
        tile(octets, &stream, (number, of_tile), &wanted, &mut integers)?;
        parts = others;
    }
    Ok(integers)
}

/// The wanted samples of one tile.
fn tile(
    octets: &[u8],
    stream: &Stream,
    (number, parts): (u64, &[TilePart]),
    wanted: &Wanted<'_>,
    integers: &mut [i32],
) -> Result<(), Failure> {
    let own = parts.first().and_then(|part| part.said.as_deref());
    let coding = own.unwrap_or(&stream.said).over(&stream.said)?;
    let tile = Tile::new(stream.tiles.rect(number, &stream.image), &coding);
    let points = tile.rect.width() * tile.rect.height();
    if tile.blocks > FEW_BLOCKS + points / POINTS_A_BLOCK + 2 * octets.len() {
        return Err(Failure::Broken("has more code blocks than its size warrants"));
    }
    let mut blocks = vec![Block::NEW; tile.blocks];
    let windows = wanted.windows(&tile.rect);
    for window in &windows {
        mark_blocks(&tile, window, &mut blocks);
    }
    let found = packets::walk(&tile, &coding, octets, parts, &mut blocks)?;
    let coefficients = Coefficients::decode(&tile, &coding, octets, &blocks, &found);
    // Samples without a sign were coded as if they had one (section G.1), and are none below 0 or above the largest.
    let (middle, most) = (1 << (stream.depth - 1), (1 << stream.depth) - 1);
    for window in &windows {
        let samples = coefficients.samples(window);
        for row in window.y0..window.y1 {
            let samples = samples.row(row, window.x0);
            for (which, column) in wanted.in_row(row, window) {
                integers[which] = samples[column].wrapping_add(middle).clamp(0, most);
            }
        }
    }
    Ok(())
}

/// Checks size, components and ends of the stream.
fn check(section: &Section<'_>, stream: &[u8], count: usize) -> Result<(), Damage> {
    let not = |words: &str| section.contradiction(format!("the JPEG 2000 stream {words}"));
    let Some(size) = stream.get(4..4 + 38 + 3).filter(|_| stream.starts_with(&START)) else {
        return Err(not("does not begin with its image size"));
    };
    if !ends_properly(stream) {
        return Err(not("does not end with its end marker"));
    }
    let word = |at: usize| {
        u64::from(u32::from_be_bytes([
            size[at],
            size[at + 1],
            size[at + 2],
            size[at + 3],
        ]))
    };
    let (right, bottom, left, top) = (word(4), word(8), word(12), word(16));
    let (tile_width, tile_height) = (word(20), word(24));
    let components = u16::from_be_bytes([size[36], size[37]]);
    let (depth, across, down) = (size[38], size[39], size[40]);
    if left >= right || top >= bottom || tile_width == 0 || tile_height == 0 {
        return Err(not("has no area"));
    }
    let (width, height) = (right - left, bottom - top);
    if components != 1 || across != 1 || down != 1 {
        return Err(not("has more than one component or skips points"));
    }
    if depth & 0x80 != 0 || (depth & 0x7f) >= 24 {
        // Deeper samples would not survive the decoder's single precision.
        return Err(not("has signed samples or samples of more than 24 bits"));
    }
    if width.checked_mul(height) != Some(count as u64) {
        return Err(not(&format!(
            "has {width} by {height} points for {count} packed values"
        )));
    }
    if right.div_ceil(tile_width) * bottom.div_ceil(tile_height) > MOST_TILES {
        return Err(not("has too many tiles"));
    }
    Ok(())
}

/// Some encoders pad section 7 with zeros.
fn ends_properly(stream: &[u8]) -> bool {
    let used = stream
        .iter()
        .rposition(|&octet| octet != 0)
        .map_or(0, |last| last + 1);
    stream[..used].ends_with(&END)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// An image of zeros: size, exponents of code blocks, layers and the octets of packets.
    fn image((width, height): (u32, u32), block: u8, layers: u16, packets: &[u8]) -> Vec<u8> {
        let size = [0, width, height, 0, 0, width, height, 0, 0]
            .map(u32::to_be_bytes)
            .concat();
        let coding = [
            0,
            0,
            (layers >> 8) as u8,
            layers as u8,
            0,
            0,
            block - 2,
            block - 2,
            0,
            1,
        ];
        let length = (14 + packets.len() as u32).to_be_bytes();
        [
            &START[..],
            &[0, 41],
            &size[2..],
            &[0, 1, 7, 1, 1, 0xff, 0x52, 0, 12],
            &coding,
            &[0xff, 0x5c, 0, 4, 0x40, 0x40, 0xff, 0x90, 0, 10, 0, 0],
            &length,
            &[0, 1, 0xff, 0x93],
            packets,
            &END,
        ]
        .concat()
    }

    // No source: the octets at hand and the places wanted are to bound the memory. An empty packet is one octet of zeros.
    #[test]
    fn large_images_of_few_octets_take_little_memory() {
        let (whole, places) = ((1 << 13, 1 << 12), [0, 5_000_000, (1 << 25) - 1]);
        let within = |most: u64, octets: &[u8]| {
            let mut found = None;
            let taken = allocation_counter::measure(|| found = Some(integers(octets, &places)));
            assert!(taken.bytes_max < most, "{} octets", taken.bytes_max);
            found.unwrap()
        };
        assert_eq!(within(1 << 20, &image(whole, 6, 1, &[0])).unwrap(), [128; 3]);
        // One bit more says that there is a packet, and another that no block is in its only layer.
        assert_eq!(within(2 << 20, &image(whole, 6, 1, &[0x80])).unwrap(), [128; 3]);
        let broken = [
            image(whole, 2, 1, &[0x80]),
            image(whole, 6, 2, &[0x80]),
            image(whole, 6, 65535, &[0x80; 30000]),
            image(whole, 6, 30000, &[0xc0; 30000]),
        ];
        for octets in broken {
            let found = within(2 << 20, &octets);
            assert!(matches!(found, Err(Failure::Broken(_))), "{found:?}");
        }
    }

    /// The octets of every image in a file of messages, with how many samples it has.
    fn images(octets: &[u8]) -> Vec<(Vec<u8>, usize)> {
        let mut images = Vec::new();
        for frame in crate::split(octets) {
            let crate::Frame::Message(message) = frame else {
                continue;
            };
            for field in crate::sections::fields(&message).unwrap_or_default() {
                let section = &field.representation;
                if section.u16(10) == Ok(40) && section.u8(20) != Ok(0) {
                    images.push((field.data.rest(6).to_vec(), section.u32(6).unwrap() as usize));
                }
            }
        }
        images
    }

    // What the values are is held elsewhere, and would be held just as well if the `grib` crate had read them.
    #[test]
    fn the_images_of_producers_and_encoders_are_all_read_here() {
        let fixture =
            |name: &str| format!("{}/../../fixtures/packings/{name}", env!("CARGO_MANIFEST_DIR")).into();
        let mut files: Vec<std::path::PathBuf> = vec![fixture("fields.grib2"), fixture("images.grib2")];
        let real = shared_files::shared("grib-real");
        let is_there = real.is_some();
        for entry in real
            .into_iter()
            .flat_map(|folder| std::fs::read_dir(folder).unwrap())
        {
            files.push(entry.unwrap().path());
        }
        let mut read = 0;
        for path in files.iter().filter(|path| path.is_file()) {
            for (image, count) in images(&std::fs::read(path).unwrap()) {
                let places: Vec<usize> = (0..count).step_by(97).collect();
                let found = integers(&image, &places);
                assert!(found.is_ok(), "{found:?} of an image in {}", path.display());
                read += 1;
            }
        }
        assert!(read >= if is_there { 130 } else { 95 }, "{read} images");
    }
}
