//! Our own SVG as a PNG: for mail, where no reader draws an SVG.
//!
//! Owns: the drawing program, its fonts, the pixels' size. The style is that of the pages (`style`), the file's bytes are
//! made in `png`. Must not know: what is drawn. Fonts are those in this program: the same picture on every machine.

mod png;
mod style;

pub(crate) use style::light;

use crate::chart::{self, Breadth};
use crate::marks::call_mark;
use advisory::document::{Advisory, CallWord};
use chrono::{DateTime, Utc};
use resvg::tiny_skia::{Color, Pixmap, Transform};
use resvg::usvg::{self, Options, Tree, fontdb};
use std::sync::{Arc, OnceLock};

/// Width of a chart, pixels.
pub const CHART_WIDTH: u32 = 1120;
/// Width of a call's mark, pixels: twice that at which it is shown.
pub const MARK_WIDTH: u32 = 112;
/// A picture is so many pixels high at most: a reef table of forty rows.
const HIGHEST: f32 = 4000.0;

/// Why there is no picture.
#[derive(Debug, thiserror::Error)]
pub enum PictureError {
    /// What was drawn is no SVG that can be read.
    #[error("a drawing could not be read; the words beside it say the same")]
    Svg(#[from] usvg::Error),
    /// It would have no size, or one far above that of any chart.
    #[error("a drawing of {width} x {height} is not made into a picture; the words beside it say the same")]
    Size {
        /// Its width in the drawing's own units.
        width: f32,
        /// Its height.
        height: f32,
    },
    /// The pixels could not be written.
    #[error("a picture could not be written; the words beside it say the same")]
    Png(#[from] ::png::EncodingError),
}

/// The ladder of a session in light colours, [`CHART_WIDTH`] pixels wide; none where no wind is known to be drawn. It is the drawing for
/// middle breadths: in a mail's column of 560 px its words are 10 px high, those of the widest not 8.
///
/// # Errors
/// [`PictureError`]; a mail goes without the picture then.
pub fn chart(advisory: &Advisory, now: DateTime<Utc>) -> Option<Result<Vec<u8>, PictureError>> {
    let known = advisory.hours.iter().any(|hour| hour.mean_kn.is_some());
    let drawn = known
        .then(|| chart::ladder(advisory, now, Breadth::Middle))
        .flatten();
    drawn.map(|svg| picture(&svg, CHART_WIDTH))
}

/// The mark of a call in light colours, [`MARK_WIDTH`] pixels wide.
///
/// # Errors
/// [`PictureError`]; the word stands beside the mark always.
pub fn mark(call: CallWord) -> Result<Vec<u8>, PictureError> {
    picture(&call_mark(call), MARK_WIDTH)
}

/// The PNG of a drawing of ours, so many pixels wide, on paper.
fn picture(svg: &str, width: u32) -> Result<Vec<u8>, PictureError> {
    let tree = Tree::from_str(&document(svg), options())?;
    let size = tree.size();
    let scale = width as f32 / size.width();
    let height = (size.height() * scale).round();
    let of_no_use = || PictureError::Size {
        width: size.width(),
        height: size.height(),
    };
    if !(1.0..=HIGHEST).contains(&height) {
        return Err(of_no_use());
    }
    let mut pixels = Pixmap::new(width, height as u32).ok_or_else(of_no_use)?;
    let [red, green, blue] = style::paper();
    pixels.fill(Color::from_rgba8(red, green, blue, u8::MAX));
    resvg::render(&tree, Transform::from_scale(scale, scale), &mut pixels.as_mut());
    Ok(png::written(&pixels)?)
}

/// The drawing as a document of its own. A page takes signs that XML cannot hold; here they would spoil all of it.
fn document(svg: &str) -> String {
    let named = svg.replacen("<svg ", "<svg xmlns=\"http://www.w3.org/2000/svg\" ", 1);
    named
        .chars()
        .filter(|sign| !sign.is_control() && !matches!(sign, '\u{fffe}' | '\u{ffff}'))
        .collect()
}

/// Style and fonts, read once.
fn options() -> &'static Options<'static> {
    static OPTIONS: OnceLock<Options<'static>> = OnceLock::new();
    OPTIONS.get_or_init(|| Options {
        style_sheet: Some(style::of_drawings()),
        font_family: style::SANS.to_owned(),
        fontdb: Arc::new(fonts()),
        ..Options::default()
    })
}

fn fonts() -> fontdb::Database {
    let mut fonts = fontdb::Database::new();
    for face in [
        dejavu::sans_condensed::regular(),
        dejavu::sans_condensed::bold(),
        dejavu::serif_condensed::regular(),
        dejavu::serif_condensed::bold(),
    ] {
        fonts.load_font_source(fontdb::Source::Binary(Arc::new(face)));
    }
    fonts
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_font_that_the_style_names_is_at_hand() {
        let fonts = fonts();
        for family in [style::SANS, style::SERIF] {
            let named = |face: &fontdb::FaceInfo| face.families.iter().any(|(name, _)| name == family);
            assert_eq!(fonts.faces().filter(|face| named(face)).count(), 2, "{family}");
        }
    }

    #[test]
    fn signs_that_xml_cannot_hold_do_not_cost_the_picture() {
        let svg = "<svg class=\"ladder\" viewBox=\"0 0 40 10\"><text>\u{1b}a\u{0}\u{ffff}</text></svg>";
        assert!(picture(svg, 40).unwrap().starts_with(b"\x89PNG"));
    }

    #[test]
    fn a_drawing_without_end_is_refused_before_there_are_pixels_of_it() {
        let svg = "<svg class=\"ladder\" viewBox=\"0 0 1 100000\"></svg>";
        assert!(matches!(picture(svg, 1200), Err(PictureError::Size { .. })));
        assert!(matches!(picture("<svg ", 1200), Err(PictureError::Svg(_))));
    }
}
