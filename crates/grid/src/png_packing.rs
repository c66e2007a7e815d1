//! PNG packing (template 5.41): packed integers out of an image.
//!
//! Decoded here and not by the `grib` crate, which takes the bits of section 5 for the width of a sample: the width is the
//! image's own, at any depth and with one, three or four channels; section 5 gives the scaling alone.

use crate::packing::Scaling;
use forecast::Sample;
use png::{BitDepth, ColorType, Decoder, Limits, Transformations};
use std::io::Cursor;
use std::panic::{AssertUnwindSafe, catch_unwind};

/// Octets a row and the decoder's buffers may take.
const MOST_OCTETS: usize = 256 << 20;

/// The values at these ascending positions; the image is read up to the row of the last one.
pub(crate) fn values(
    image: &[u8],
    count: usize,
    wanted: &[usize],
    scaling: &Scaling,
) -> Result<Vec<Sample>, String> {
    let read = || packed_integers(image, count, wanted);
    let packed =
        catch_unwind(AssertUnwindSafe(read)).unwrap_or_else(|_| Err("the decoder gave up".to_owned()))?;
    let value = |packed| {
        let value = scaling.value_of(f64::from(packed));
        if value.is_finite() {
            Ok(Ok(value))
        } else {
            Err("a value is out of range".to_owned())
        }
    };
    packed.into_iter().map(value).collect()
}

fn packed_integers(image: &[u8], count: usize, wanted: &[usize]) -> Result<Vec<u32>, String> {
    let mut decoder = Decoder::new_with_limits(Cursor::new(image), Limits { bytes: MOST_OCTETS });
    decoder.set_transformations(Transformations::IDENTITY);
    // A profile of colours means nothing here, and few octets of one can ask for much memory.
    decoder.set_ignore_iccp_chunk(true);
    let mut reader = decoder.read_info().map_err(|error| error.to_string())?;
    let info = reader.info();
    let (width, height) = (info.width as usize, info.height as usize);
    if width.checked_mul(height) != Some(count) {
        return Err(format!(
            "an image of {width} by {height} points for {count} packed values"
        ));
    }
    if info.interlaced {
        return Err("an interlaced image".to_owned());
    }
    let bits = bits_a_point(info.color_type, info.bit_depth)?;
    let (mut packed, mut rows_read, mut row) = (Vec::with_capacity(wanted.len()), 0, Vec::new());
    for &position in wanted {
        while rows_read <= position / width {
            let next = reader.next_row().map_err(|error| error.to_string())?;
            row.clear();
            row.extend_from_slice(next.ok_or("the image ends early")?.data());
            rows_read += 1;
        }
        packed.push(point(&row, position % width, bits).ok_or("a row of the image is too short")?);
    }
    Ok(packed)
}

fn bits_a_point(colour: ColorType, depth: BitDepth) -> Result<usize, String> {
    match (colour, depth) {
        (ColorType::Grayscale, depth) => Ok(depth as usize),
        (ColorType::Rgb, BitDepth::Eight) => Ok(24),
        (ColorType::Rgba, BitDepth::Eight) => Ok(32),
        (colour, depth) => Err(format!("an image of kind {colour:?} with {depth:?} bits")),
    }
}

/// One packed integer of a row, most significant bits first.
fn point(row: &[u8], at: usize, bits: usize) -> Option<u32> {
    if bits < 8 {
        let octet = u32::from(*row.get(at * bits / 8)?);
        return Some((octet >> (8 - bits - at * bits % 8)) & ((1 << bits) - 1));
    }
    let octets = row.get(at * bits / 8..(at + 1) * bits / 8)?;
    Some(octets.iter().fold(0, |sum, &octet| (sum << 8) | u32::from(octet)))
}
