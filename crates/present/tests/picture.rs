//! Pictures for mail: read again by a PNG decoder, they have the size asked for, and the colours of the style sheet's light
//! tokens where the drawing's own figures say.
//!
//! Source: the `png` crate as the reader; the SVG itself for where things are.

#![expect(clippy::unwrap_used, reason = "helpers of tests fail by panicking")]

mod sample;

use advisory::document::CallWord;
use present::{Breadth, ladder, picture};
use sample::{GO, LIGHT, MARGINAL, NO_CALL, NO_GO, advisories, advisory, hostile, later, now};

struct Picture {
    width: usize,
    height: usize,
    pixels: Vec<[u8; 3]>,
}

impl Picture {
    fn read(file: &[u8]) -> Self {
        let mut decoder = png::Decoder::new(std::io::Cursor::new(file));
        decoder.set_transformations(png::Transformations::EXPAND);
        let mut reader = decoder.read_info().unwrap();
        let mut octets = vec![0; reader.output_buffer_size().unwrap()];
        let frame = reader.next_frame(&mut octets).unwrap();
        assert_eq!(frame.color_type, png::ColorType::Rgb, "opaque, in colours");
        let pixels = octets.chunks_exact(3).map(|pixel| [pixel[0], pixel[1], pixel[2]]);
        Self {
            width: frame.width as usize,
            height: frame.height as usize,
            pixels: pixels.collect(),
        }
    }

    /// The colour at a place of the drawing that is so many units wide.
    fn at(&self, (x, y): (f64, f64), units: f64) -> [u8; 3] {
        let scale = self.width as f64 / units;
        self.pixels[(y * scale) as usize * self.width + (x * scale) as usize]
    }

    fn count(&self, colour: [u8; 3]) -> usize {
        self.pixels.iter().filter(|pixel| **pixel == colour).count()
    }
}

/// A light token of the style sheet.
fn token(name: &str) -> [u8; 3] {
    let said = present::html::STYLE.split_once(&format!("--{name}:#")).unwrap().1;
    let number = u32::from_str_radix(&said[..6], 16).unwrap();
    let [_, red, green, blue] = number.to_be_bytes();
    [red, green, blue]
}

/// The points of the first path of a class.
fn points(svg: &str, class: &str) -> Vec<(f64, f64)> {
    let path = svg.split_once(&format!("class=\"{class}\" d=\"M")).unwrap().1;
    let numbers = path.split_once('"').unwrap().0.split('L');
    numbers
        .map(|point| point.split_once(' ').unwrap())
        .map(|(x, y)| (x.parse().unwrap(), y.parse().unwrap()))
        .collect()
}

const BROAD: f64 = 704.0;

#[test]
fn the_mean_line_is_ink_where_the_drawing_has_it_and_bands_and_marks_have_their_tokens() {
    let one = advisory(MARGINAL);
    let svg = ladder(&one, now(), Breadth::Middle).unwrap();
    let picture = Picture::read(&picture::chart(&one, now()).unwrap().unwrap());
    assert_eq!(picture.width, 1120);
    let high: f64 = svg
        .split_once("viewBox=\"0 0 704 ")
        .unwrap()
        .1
        .split('"')
        .next()
        .unwrap()
        .parse()
        .unwrap();
    assert_eq!(picture.height, (high * 1120.0 / BROAD).round() as usize);
    assert_eq!(picture.pixels[0], token("paper"), "on paper");
    // Inside the session the veil leaves the line as it is; a few points lie under words.
    let line = points(&svg, "mean");
    let inside: Vec<_> = line.iter().filter(|(x, _)| (285.0..526.0).contains(x)).collect();
    let inked = inside
        .iter()
        .filter(|at| picture.at(***at, BROAD) == token("ink"))
        .count();
    assert!(
        inside.len() > 20 && inked * 5 >= inside.len() * 4,
        "{inked} of {}",
        inside.len()
    );
    let outside = line.iter().filter(|(x, _)| (232.0..272.0).contains(x));
    assert!(outside.clone().count() > 0, "hours before leaving");
    for at in outside {
        assert_ne!(
            picture.at(*at, BROAD),
            token("ink"),
            "the veil lies over the hour before"
        );
    }
    let diamond = svg
        .split_once("<path class=\"m\" d=\"M")
        .unwrap()
        .1
        .split('l')
        .next()
        .unwrap();
    let (x, top) = diamond.split_once(' ').unwrap();
    let middle = (x.parse().unwrap(), top.parse::<f64>().unwrap() + 7.0);
    assert_eq!(picture.at(middle, BROAD), token("mag"), "the reef is due");
    for (row, band) in ["t0", "t1", "t2", "t3"].into_iter().enumerate() {
        let y = high - 66.0 - 60.0 * (row as f64 + 0.9);
        assert_eq!(picture.at((225.0, y), BROAD), token(band), "band {row}");
    }
    assert!(
        picture.count(token("fan")) + picture.count(token("ink2")) > 300,
        "the fan and the second words"
    );
}

#[test]
fn every_sample_has_a_picture_that_a_mail_can_carry_and_words_in_it() {
    for one in advisories().into_iter().chain([hostile()]) {
        let file = picture::chart(&one, now()).unwrap().unwrap();
        assert!(file.len() < 60_000, "{} octets", file.len());
        // The labels of the rows: without a font there would be paper alone under the glyphs.
        let label = Picture::read(&file);
        let column = (100..270).flat_map(|x| (170..460).map(move |y| (x, y)));
        let inked = column
            .filter(|(x, y)| label.pixels[y * label.width + x] == token("ink"))
            .count();
        assert!(inked > 1500, "{inked} pixels of words");
    }
    let mut none = advisory(NO_CALL);
    none.hours.clear();
    assert!(picture::chart(&none, now()).is_none(), "no hours, no picture");
    let file = |index| picture::chart(&advisory(index), now()).unwrap().unwrap();
    assert!(file(GO) == file(GO), "one drawing makes one file");
    assert!(file(GO) != file(LIGHT) && file(GO) != file(NO_GO));
}

#[test]
fn an_old_advisory_has_no_reef_due_in_its_picture() {
    let magenta = |time| {
        Picture::read(&picture::chart(&advisory(MARGINAL), time).unwrap().unwrap()).count(token("mag"))
    };
    let (current, old) = (magenta(now()), magenta(later()));
    assert!(
        old * 2 < current,
        "{old} of {current}: only the crew's limits are left"
    );
}

#[test]
fn marks_have_their_shapes_at_twice_their_size() {
    let ink = token("ink");
    for (call, inked, ground) in [
        (CallWord::Go, (2.0, 12.0), Some(((7.0, 3.0), "t2"))),
        (CallWord::Marginal, (7.0, 4.0), Some(((20.0, 4.0), "fan"))),
        (CallWord::NoGo, (12.0, 2.0), Some(((12.0, 12.0), "paper"))),
        (CallWord::NoCall, (3.0, 1.6), Some(((12.0, 12.0), "paper"))),
    ] {
        let mark = Picture::read(&picture::mark(call).unwrap());
        assert_eq!((mark.width, mark.height), (112, 112));
        assert_eq!(mark.at(inked, 24.0), ink, "{call:?}");
        if let Some((place, name)) = ground {
            assert_eq!(mark.at(place, 24.0), token(name), "{call:?}");
        }
    }
}
