//! The bytes of a PNG (PNG Specification, Third Edition) with a palette: a drawing has few colours, and a mail is small.

use png::{BitDepth, ColorType, Compression, Encoder, EncodingError, Filter};
use resvg::tiny_skia::Pixmap;
use std::collections::HashMap;

/// Colours that a palette holds, at most (section 11.2.2 there).
const COLOURS: usize = 256;

type Colour = [u8; 3];

/// The picture's file. Its pixels must be opaque.
pub(super) fn written(pixels: &Pixmap) -> Result<Vec<u8>, EncodingError> {
    let colours: Vec<Colour> = pixels
        .data()
        .chunks_exact(4)
        .map(|pixel| [pixel[0], pixel[1], pixel[2]])
        .collect();
    let (palette, places) = palette(&colours);
    let mut file = Vec::new();
    let mut encoder = Encoder::new(&mut file, pixels.width(), pixels.height());
    encoder.set_color(ColorType::Indexed);
    encoder.set_depth(BitDepth::Eight);
    encoder.set_palette(palette.concat());
    encoder.set_compression(Compression::Balanced);
    encoder.set_filter(Filter::NoFilter);
    encoder.write_header()?.write_image_data(&places)?;
    Ok(file)
}

/// The colours used most, and for each pixel the place of its own or of the nearest.
fn palette(colours: &[Colour]) -> (Vec<Colour>, Vec<u8>) {
    let mut counted: HashMap<Colour, usize> = HashMap::new();
    for run in colours.chunk_by(|one, next| one == next) {
        *counted.entry(run[0]).or_default() += run.len();
    }
    let mut by_use: Vec<(Colour, usize)> = counted.into_iter().collect();
    // By colour where the count is the same: one drawing makes one file.
    by_use.sort_unstable_by_key(|(colour, count)| (usize::MAX - count, *colour));
    let palette: Vec<Colour> = by_use.iter().take(COLOURS).map(|(colour, _)| *colour).collect();
    let mut place: HashMap<Colour, u8> = palette.iter().copied().zip(0..=u8::MAX).collect();
    let others = by_use.iter().skip(COLOURS);
    place.extend(others.map(|(colour, _)| (*colour, nearest(*colour, &palette))));
    let mut places = Vec::with_capacity(colours.len());
    for run in colours.chunk_by(|one, next| one == next) {
        places.resize(places.len() + run.len(), place[&run[0]]);
    }
    (palette, places)
}

fn nearest(colour: Colour, palette: &[Colour]) -> u8 {
    let away = |other: &Colour| -> u32 {
        let apart = |(one, two): (&u8, &u8)| u32::from(one.abs_diff(*two)).pow(2);
        colour.iter().zip(other).map(apart).sum()
    };
    let nearest = palette.iter().enumerate().min_by_key(|(_, other)| away(other));
    nearest.map_or(0, |(place, _)| place as u8)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn colours_used_most_stay_as_they_are_and_others_become_the_nearest() {
        let mut colours: Vec<Colour> = (0..=255).flat_map(|grey| [[grey, grey, grey]; 2]).collect();
        colours.push([101, 99, 100]);
        let (palette, places) = palette(&colours);
        assert_eq!((palette.len(), places.len()), (256, colours.len()));
        let drawn = |index: usize| palette[usize::from(places[index])];
        for (index, colour) in colours.iter().enumerate().take(512) {
            assert_eq!(drawn(index), *colour);
        }
        assert_eq!(drawn(512), [100, 100, 100]);
    }
}
