//! The sail-plan glyph, 40 x 40, bow to the left: what is set in ink, the full sails as a dashed ghost, a slit for each
//! reef, and a headsail whose drawn area is the fraction that is set.

use crate::svg::Drawing;
use advisory::document::Sail;

type Point = (f64, f64);

const MAIN_TACK: Point = (20.5, 32.0);
const MAIN_HEAD: Point = (20.5, 3.0);
const MAIN_CLEW: Point = (37.0, 32.0);
const JIB_TACK: Point = (3.0, 32.0);
const JIB_HEAD: Point = (18.5, 5.0);
const JIB_CLEW: Point = (18.0, 32.0);
/// Mast, boom and hull.
const SPARS: &str = "M20.5 34V2.5M20.5 32H37.5M2 36.2Q20 39.6 38 36.2";
/// Heights of the slits, lowest reef first.
const SLITS: [f64; 3] = [29.3, 25.8, 22.3];

/// The glyph as an `svg` element; `place` holds its position and size inside a chart, or is empty.
pub(crate) fn sail_glyph(sail: &Sail, place: &str) -> String {
    let mut drawing = Drawing::default();
    drawing.add(format_args!(
        r#"<svg class="sail"{place} viewBox="0 0 40 40" aria-hidden="true" focusable="false">"#
    ));
    let reefs = sail.reefs.min(3);
    if reefs > 0 {
        drawing.path("ghost", &triangle(MAIN_TACK, MAIN_HEAD, MAIN_CLEW));
    }
    if sail.headsail < 1.0 {
        drawing.path("ghost", &triangle(JIB_TACK, JIB_HEAD, JIB_CLEW));
    }
    let (head, clew) = reefed_main(reefs);
    drawing.path("set", &triangle(MAIN_TACK, head, clew));
    drawing.path("set", &triangle(JIB_TACK, JIB_HEAD, furled_clew(sail.headsail)));
    for y in SLITS.iter().take(usize::from(reefs)) {
        // The leech runs straight from head to clew: the slit ends on it.
        let leech = clew.0 + (head.0 - clew.0) * (clew.1 - y) / (clew.1 - head.1);
        drawing.path("slit", &format!("M20.5 {y}H{leech:.1}"));
    }
    drawing.path("spar", SPARS);
    drawing.add_piece("</svg>");
    drawing.finish()
}

/// The glyph at a place of a chart.
pub(crate) fn sail_glyph_at(sail: &Sail, (x, y): Point, size: f64) -> String {
    sail_glyph(
        sail,
        &format!(r#" x="{x:.1}" y="{y:.1}" width="{size:.0}" height="{size:.0}""#),
    )
}

/// Head and clew of the main: the head comes down with the reefs, the clew half as far in.
fn reefed_main(reefs: u8) -> (Point, Point) {
    let left = 1.0 - 0.17 * f64::from(reefs);
    let out = left / 2.0 + 0.5;
    (
        between(MAIN_TACK, MAIN_HEAD, left),
        between(MAIN_TACK, MAIN_CLEW, out),
    )
}

/// The clew drawn so that the triangle's area is the fraction of the full one: it moves straight towards the luff.
fn furled_clew(fraction: f64) -> Point {
    let luff = (JIB_HEAD.0 - JIB_TACK.0, JIB_HEAD.1 - JIB_TACK.1);
    let to_clew = (JIB_CLEW.0 - JIB_TACK.0, JIB_CLEW.1 - JIB_TACK.1);
    let along = (luff.0 * to_clew.0 + luff.1 * to_clew.1) / (luff.0 * luff.0 + luff.1 * luff.1);
    let foot = between(JIB_TACK, JIB_HEAD, along);
    between(foot, JIB_CLEW, fraction.clamp(0.0, 1.0))
}

fn between(from: Point, to: Point, part: f64) -> Point {
    (from.0 + part * (to.0 - from.0), from.1 + part * (to.1 - from.1))
}

fn triangle(a: Point, b: Point, c: Point) -> String {
    format!(
        "M{:.1} {:.1}L{:.1} {:.1}L{:.1} {:.1}z",
        a.0, a.1, b.0, b.1, c.0, c.1
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn area(a: Point, b: Point, c: Point) -> f64 {
        ((b.0 - a.0) * (c.1 - a.1) - (c.0 - a.0) * (b.1 - a.1)).abs() / 2.0
    }

    // Source: the shoelace formula for a triangle's area.
    #[test]
    fn the_drawn_headsail_has_the_stated_fraction_of_the_area() {
        let full = area(JIB_TACK, JIB_HEAD, JIB_CLEW);
        for fraction in [0.0, 0.25, 0.5, 0.75, 1.0] {
            let drawn = area(JIB_TACK, JIB_HEAD, furled_clew(fraction));
            assert!(
                (drawn - fraction * full).abs() < 1e-9,
                "{fraction}: {drawn} of {full}"
            );
        }
    }

    #[test]
    fn one_counts_the_reefs() {
        for reefs in 0..=4_u8 {
            let sail = Sail {
                row: 0,
                reefs,
                headsail: 0.5,
                words: String::new(),
                note: None,
            };
            let slits = sail_glyph(&sail, "").matches(r#"class="slit""#).count();
            assert_eq!(slits, usize::from(reefs.min(3)), "{reefs} reefs");
        }
    }
}
