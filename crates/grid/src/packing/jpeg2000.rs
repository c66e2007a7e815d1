//! Checks of a JPEG 2000 code stream (template 5.40) before it is decoded: that its image is the field and nothing else.
//!
//! Marker layout: ISO/IEC 15444-1 annex A, SOC and SIZ.

use crate::Damage;
use crate::sections::Section;

/// Start of code stream, then the marker of image and tile size.
const START: [u8; 4] = [0xff, 0x4f, 0xff, 0x51];
/// End of code stream.
const END: [u8; 2] = [0xff, 0xd9];
/// The most tiles of an image; producers write one.
const MOST_TILES: u64 = 1024;

/// Checks size, components and ends of the stream.
pub(super) fn check(section: &Section<'_>, stream: &[u8], count: usize) -> Result<(), Damage> {
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
