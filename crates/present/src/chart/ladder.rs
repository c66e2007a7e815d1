//! The ladder: the rows of the boat's reef table as bands, wind and gust across them hour by hour.
//!
//! Here: grounds, bands with their labels, the two lines, the axis. Marks that speak are in `annotations`.

use super::layout::{Breadth, Layout, PAST_STRIP, in_short_steps, known_stretches};
use super::rows::{Measure, place};
use super::{annotations, barbs, carry, description, entrance, gaps, limits, spread};
use crate::sail_glyph::sail_glyph_at;
use crate::shown::Shown;
use crate::svg::{Anchor, Drawing, line_through};
use crate::wording::{cut, fraction, headsail_words, main_words, tenth};
use advisory::document::{Advisory, Hour, Row};

/// The whole drawing; none without hours or table.
pub(super) fn draw(shown: Shown<'_>, breadth: Breadth) -> Option<String> {
    let advisory = shown.advisory;
    let layout = Layout::of(advisory, breadth).filter(|layout| layout.rows > 0)?;
    let mut drawing = Drawing::default();
    open(&mut drawing, &layout, shown);
    bands(&mut drawing, &layout);
    uprights(&mut drawing, &layout, &advisory.hours);
    spread::draw(&mut drawing, &layout, advisory);
    rungs(&mut drawing, &layout);
    limits::draw(&mut drawing, &layout, advisory);
    annotations::night(&mut drawing, &layout, advisory);
    // Under the lines: where the gust alone is missing, the mean still shows.
    let gaps = gaps::wind_gaps(advisory);
    gaps::outline(&mut drawing, &layout, &gaps, (layout.top, layout.base()));
    gust_line(&mut drawing, &layout, advisory);
    mean_line(&mut drawing, &layout, advisory);
    annotations::session(&mut drawing, &layout, advisory);
    entrance::draw(&mut drawing, &layout, advisory);
    // High up, where the lines of a wind worth sailing seldom run; over the uprights of the passages.
    gaps::name(&mut drawing, &layout, &gaps, layout.top + 70.0);
    barbs::draw(&mut drawing, &layout, advisory);
    row_labels(&mut drawing, &layout, &advisory.reef_table);
    let plot = (layout.right - layout.left, layout.base() - layout.top);
    drawing.rect("frame", (layout.left, layout.top), plot);
    annotations::reefs_due(&mut drawing, &layout, shown);
    annotations::values(&mut drawing, &layout, advisory);
    hours(&mut drawing, &layout, &advisory.hours, layout.base() + 16.0);
    if !layout.on_the_sheet() {
        carry::draw(&mut drawing, &layout, shown);
    }
    spread_words(&mut drawing, &layout, advisory);
    drawing.add_piece("</svg>");
    Some(drawing.finish())
}

fn open(drawing: &mut Drawing, layout: &Layout, shown: Shown<'_>) {
    let (class, id) = (layout.breadth.class(), layout.breadth.prefix());
    drawing.add(format_args!(
        r#"<svg class="ladder {class}" viewBox="0 0 {} {}" role="img" aria-labelledby="{id}t {id}d">"#,
        layout.width,
        layout.height(shown.plan().is_some())
    ));
    drawing.named("title", &format!("{id}t"), &description::title(shown.advisory));
    drawing.named("desc", &format!("{id}d"), &description::description(shown));
    drawing.add(format_args!(
        concat!(
            r#"<defs><pattern id="{0}past" width="7" height="7" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">"#,
            r#"<path class="pat-ink" d="M0 0V7" stroke-width="1.6"/></pattern>"#,
            r#"<pattern id="{0}lim" width="5" height="5" patternUnits="userSpaceOnUse" patternTransform="rotate(-45)">"#,
            r#"<path class="pat-mag" d="M0 0V5" stroke-width="1.6"/></pattern>"#,
            r#"<pattern id="{0}night" width="9" height="9" patternUnits="userSpaceOnUse" patternTransform="rotate(62)">"#,
            r#"<path class="pat-ink" d="M0 0V9" stroke-width="1" stroke-opacity=".55"/></pattern></defs>"#
        ),
        id
    ));
}

/// The tint of a row: the fourth repeats.
pub(super) fn tint(row: usize) -> String {
    format!("r{}", row.min(3))
}

fn bands(drawing: &mut Drawing, layout: &Layout) {
    for row in 0..layout.rows {
        let top = layout.y(row as f64 + 1.0);
        drawing.rect(&tint(row), (0.0, top), (layout.right, layout.band));
    }
    let strip = (layout.right - layout.left, PAST_STRIP);
    let pattern = format!("{}past", layout.breadth.prefix());
    drawing.hatch(&pattern, 0.55, (layout.left, layout.top), strip);
}

fn uprights(drawing: &mut Drawing, layout: &Layout, hours: &[Hour]) {
    for (hour, _) in layout.marked_hours(hours) {
        let x = layout.x(hour.at);
        drawing.path("hour", &format!("M{x:.1} {:.1}V{:.1}", layout.top, layout.base()));
    }
}

fn rungs(drawing: &mut Drawing, layout: &Layout) {
    for row in 0..=layout.rows {
        let y = layout.y(row as f64);
        drawing.path("rung", &format!("M0 {y:.1}H{:.1}", layout.right));
    }
}

fn stretches(advisory: &Advisory, measure: Measure, layout: &Layout) -> Vec<Vec<(f64, f64)>> {
    let value = |hour: &Hour| match measure {
        Measure::Mean => hour.mean_kn.map(|knots| [knots]),
        Measure::Gust => hour.gust_kn.map(|knots| [knots]),
    };
    known_stretches(&advisory.hours, value)
        .iter()
        .map(|stretch| {
            in_short_steps(stretch)
                .into_iter()
                .map(|(at, [knots])| {
                    (
                        layout.x(at),
                        layout.y(place(&advisory.reef_table, measure, knots)),
                    )
                })
                .collect()
        })
        .collect()
}

fn gust_line(drawing: &mut Drawing, layout: &Layout, advisory: &Advisory) {
    let estimated = advisory.hours.iter().any(|hour| hour.gust_estimated);
    let class = if estimated { "gust estimated" } else { "gust" };
    for points in stretches(advisory, Measure::Gust, layout) {
        drawing.path(class, &line_through(&points));
    }
    for hour in &advisory.hours {
        if let Some(knots) = hour.gust_kn {
            let y = layout.y(place(&advisory.reef_table, Measure::Gust, knots));
            drawing.path("spike", &format!("M{:.1} {y:.1}v-8", layout.x(hour.at)));
        }
    }
}

fn mean_line(drawing: &mut Drawing, layout: &Layout, advisory: &Advisory) {
    for points in stretches(advisory, Measure::Mean, layout) {
        match points.as_slice() {
            // One known hour between two gaps has no line to lie on.
            [(x, y)] => drawing.add(format_args!(
                r#"<circle class="stn" cx="{x:.1}" cy="{y:.1}" r="3"/>"#
            )),
            _ => drawing.path("mean", &line_through(&points)),
        }
    }
}

fn row_labels(drawing: &mut Drawing, layout: &Layout, table: &[Row]) {
    for (index, row) in table.iter().enumerate() {
        let top = layout.y(index as f64 + 1.0);
        if layout.narrow() {
            narrow_label(drawing, row, top);
        } else if layout.on_the_sheet() {
            sheet_label(drawing, row, top, layout.band);
        } else {
            drawing.add_piece(&sail_glyph_at(&row.sail, (6.0, top + 9.0), 44.0));
            broad_label(drawing, row, top);
        }
    }
    let past = if layout.narrow() {
        "not sailed"
    } else {
        "past the table: not sailed"
    };
    drawing.text("dim", (6.0, layout.top + 16.0), Anchor::Start, past);
}

fn broad_label(drawing: &mut Drawing, row: &Row, top: f64) {
    let carried = &row.sail.words;
    let limits = format!(
        "to {} kn, gusts {}",
        tenth(row.mean_up_to_kn),
        tenth(row.gust_up_to_kn)
    );
    if carried.chars().count() <= 22 {
        drawing.text("ser", (58.0, top + 27.0), Anchor::Start, carried);
        drawing.text("dim", (58.0, top + 44.0), Anchor::Start, &limits);
    } else {
        let (first, second) = carried.split_once(", ").map_or_else(
            || (main_words(&row.sail), headsail_words(&row.sail)),
            |(a, b)| (a.into(), b.into()),
        );
        drawing.text("ser", (58.0, top + 20.0), Anchor::Start, &cut(&first, 22));
        drawing.text("ser", (58.0, top + 36.0), Anchor::Start, &cut(&second, 22));
        drawing.text("dim", (58.0, top + 52.0), Anchor::Start, &limits);
    }
}

fn sheet_label(drawing: &mut Drawing, row: &Row, top: f64, band: f64) {
    let limits = format!(
        "to {} kn, gusts {}",
        tenth(row.mean_up_to_kn),
        tenth(row.gust_up_to_kn)
    );
    let carried = if row.sail.words.chars().count() <= 22 {
        row.sail.words.clone()
    } else {
        format!("{}, {}", main_words(&row.sail), headsail_words(&row.sail))
    };
    drawing.add_piece(&sail_glyph_at(&row.sail, (6.0, top + band / 2.0 - 12.5), 25.0));
    drawing.text("ser", (39.0, top + band / 2.0 - 3.0), Anchor::Start, &carried);
    drawing.text("dim", (39.0, top + band / 2.0 + 11.0), Anchor::Start, &limits);
}

/// Where the drawing shows no fan, or the usual one, it says so.
fn spread_words(drawing: &mut Drawing, layout: &Layout, advisory: &Advisory) {
    let words = match (spread::is_known(advisory), spread::floor_only(advisory)) {
        (false, _) => "no spread known",
        (true, true) => "dashed: usual spread only",
        (true, false) => return,
    };
    if !layout.narrow() {
        drawing.text("dim", (6.0, layout.base() + 16.0), Anchor::Start, words);
    }
}

fn narrow_label(drawing: &mut Drawing, row: &Row, top: f64) {
    let limits = format!(
        "to {} / {} kn",
        tenth(row.mean_up_to_kn),
        tenth(row.gust_up_to_kn)
    );
    let main = if row.sail.reefs == 0 {
        "full".to_owned()
    } else {
        main_words(&row.sail)
    };
    drawing.add_piece(&sail_glyph_at(&row.sail, (2.0, top + 6.0), 30.0));
    drawing.text("b", (35.0, top + 19.0), Anchor::Start, &main);
    drawing.text(
        "b",
        (35.0, top + 34.0),
        Anchor::Start,
        &format!("{} head.", fraction(row.sail.headsail)),
    );
    drawing.text("dim", (3.0, top + 59.0), Anchor::Start, &limits);
}

/// The hours under a plot.
pub(super) fn hours(drawing: &mut Drawing, layout: &Layout, hours: &[Hour], y: f64) {
    for (hour, name) in layout.marked_hours(hours) {
        if let Some(name) = name {
            drawing.text("", (layout.x(hour.at), y), Anchor::Middle, &name);
        }
    }
}
