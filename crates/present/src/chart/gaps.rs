//! Hours whose wind or gust is missing: an empty, dashed outline from edge to edge, with the reason in words.

use super::layout::Layout;
use crate::svg::{Anchor, Drawing};
use crate::wording::{clock, cut};
use advisory::document::{Advisory, Hour, LocalTime};

/// A stretch of hours without a value.
pub(crate) struct Gap {
    /// The last known hour before, or the first hour drawn.
    pub from: LocalTime,
    /// The first known hour after, or the last hour drawn.
    pub to: LocalTime,
    /// "no gust 13:00 to 15:00".
    pub words: String,
    /// "run too old", where the advisory says why.
    pub reason: Option<String>,
}

/// Stretches without mean or gust.
pub(crate) fn wind_gaps(advisory: &Advisory) -> Vec<Gap> {
    let missing = |hour: &Hour| hour.mean_kn.is_none() || hour.gust_kn.is_none();
    gaps(advisory, missing, |hours| {
        if hours.iter().any(|hour| hour.mean_kn.is_none()) {
            ("no wind", &["mean", "wind"])
        } else {
            ("no gust", &["gust"])
        }
    })
}

/// Stretches without wave height.
pub(crate) fn sea_gaps(advisory: &Advisory) -> Vec<Gap> {
    gaps(
        advisory,
        |hour| hour.wave_m.is_none(),
        |_| ("no sea", &["wave", "sea"]),
    )
}

fn gaps(
    advisory: &Advisory,
    missing: impl Fn(&Hour) -> bool,
    what: impl Fn(&[Hour]) -> (&'static str, &'static [&'static str]),
) -> Vec<Gap> {
    let hours = &advisory.hours;
    let mut found = Vec::new();
    let mut index = 0;
    while index < hours.len() {
        let length = hours[index..].iter().take_while(|hour| missing(hour)).count();
        if length > 0 {
            let without = &hours[index..index + length];
            let (name, keys) = what(without);
            let (first, last) = (without[0].at, without[length - 1].at);
            found.push(Gap {
                from: hours[index.saturating_sub(1)].at,
                to: hours[(index + length).min(hours.len() - 1)].at,
                words: format!("{name} {} to {}", clock(first), clock(last)),
                reason: reason(advisory, keys, first, last),
            });
        }
        index += length.max(1);
    }
    found
}

fn reason(advisory: &Advisory, keys: &[&str], from: LocalTime, to: LocalTime) -> Option<String> {
    let concerns = |quantity: &str| keys.iter().any(|key| quantity.starts_with(key));
    let said = advisory
        .missing
        .iter()
        .find(|value| concerns(&value.quantity) && value.span.from <= to && value.span.to >= from)?;
    Some(said.reason.replace(['-', '_'], " "))
}

/// Draws the outlines between two heights.
pub(super) fn outline(drawing: &mut Drawing, layout: &Layout, gaps: &[Gap], (top, bottom): (f64, f64)) {
    for gap in gaps {
        let (left, right) = (layout.x(gap.from), layout.x(gap.to));
        drawing.rect("hole", (left, top), (right - left, bottom - top));
    }
}

/// Writes their words from a height down, over whatever passes there.
pub(super) fn name(drawing: &mut Drawing, layout: &Layout, gaps: &[Gap], words_at: f64) {
    for gap in gaps {
        let (left, right) = (layout.x(gap.from), layout.x(gap.to));
        let mut y = words_at;
        // Words stay inside the plot, also where the gap lies at its edge.
        let half = if layout.narrow() { 50.0 } else { 85.0 };
        let x = ((left + right) / 2.0).clamp(layout.left + half, layout.right - half);
        for line in lines(gap, layout.narrow()) {
            drawing.text("halo b", (x, y), Anchor::Middle, &line);
            y += 17.0;
        }
    }
}

fn lines(gap: &Gap, narrow: bool) -> Vec<String> {
    let words = if narrow {
        gap.words.splitn(3, ' ').take(2).collect::<Vec<_>>().join(" ")
    } else {
        gap.words.clone()
    };
    let room = if narrow { 15 } else { 28 };
    std::iter::once(words)
        .chain(gap.reason.iter().map(|reason| cut(reason, room)))
        .collect()
}
