//! A drawing under the pen: shapes and words become SVG, and every word is escaped on its way in.

use askama::filters::{Escaper, Html};
use std::fmt::{Arguments, Write as _};

/// SVG being written.
#[derive(Default)]
pub(crate) struct Drawing {
    svg: String,
}

/// Where a word stands against its x.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum Anchor {
    Start,
    Middle,
    End,
}

impl Drawing {
    /// Adds elements whose text holds no foreign words.
    pub fn add(&mut self, element: Arguments<'_>) {
        // Writing to a String cannot fail.
        let _ = self.svg.write_fmt(element);
    }

    /// Adds a ready piece of SVG.
    pub fn add_piece(&mut self, piece: &str) {
        self.svg.push_str(piece);
    }

    /// A path of a class.
    pub fn path(&mut self, class: &str, data: &str) {
        self.add(format_args!(r#"<path class="{class}" d="{data}"/>"#));
    }

    /// A rectangle of a class.
    pub fn rect(&mut self, class: &str, (x, y): (f64, f64), (width, height): (f64, f64)) {
        self.add(format_args!(
            r#"<rect class="{class}" x="{x:.1}" y="{y:.1}" width="{width:.1}" height="{height:.1}"/>"#
        ));
    }

    /// A rectangle filled with a pattern of this drawing.
    pub fn hatch(&mut self, pattern: &str, opacity: f64, (x, y): (f64, f64), (width, height): (f64, f64)) {
        self.add(format_args!(
            r#"<rect x="{x:.1}" y="{y:.1}" width="{width:.1}" height="{height:.1}" fill="url(#{pattern})" opacity="{opacity}"/>"#
        ));
    }

    /// Words.
    pub fn text(&mut self, class: &str, (x, y): (f64, f64), anchor: Anchor, words: &str) {
        let anchored = match anchor {
            Anchor::Start => "",
            Anchor::Middle => r#" text-anchor="middle""#,
            Anchor::End => r#" text-anchor="end""#,
        };
        self.add(format_args!(
            r#"<text class="{class}" x="{x:.1}" y="{y:.1}"{anchored}>"#
        ));
        self.words(words);
        self.add_piece("</text>");
    }

    /// An element that holds words only, such as a title.
    pub fn named(&mut self, element: &str, id: &str, words: &str) {
        self.add(format_args!(r#"<{element} id="{id}">"#));
        self.words(words);
        self.add(format_args!("</{element}>"));
    }

    fn words(&mut self, words: &str) {
        // Writing to a String cannot fail.
        let _ = Html.write_escaped_str(&mut self.svg, words);
    }

    /// The SVG.
    pub fn finish(self) -> String {
        self.svg
    }
}

/// Words as text of HTML or XML.
pub(crate) fn escaped(words: &str) -> String {
    let mut text = String::new();
    // Writing to a String cannot fail.
    let _ = Html.write_escaped_str(&mut text, words);
    text
}

/// A line through points, as path data.
pub(crate) fn line_through(points: &[(f64, f64)]) -> String {
    let mut data = String::new();
    for (index, (x, y)) in points.iter().enumerate() {
        let _ = write!(data, "{}{x:.1} {y:.1}", if index == 0 { 'M' } else { 'L' });
    }
    data
}
