//! The fan of the spread, and when by that spread an edge of the table is crossed.
//!
//! Each edge of the fan is the higher of the mean's and the gust's own percentile, as the higher of the two picks the
//! row. Without a spread of both there is no fan.

use super::layout::{Layout, in_short_steps, known_stretches};
use super::rows::picked;
use crate::svg::{Drawing, line_through};
use advisory::document::{Advisory, Hour, LocalTime, Row};

/// Points of one unbroken fan: time, lower and upper place.
type Fan = Vec<(LocalTime, f64, f64)>;

/// The fans of a session, broken where the spread is not known.
pub(super) fn fans(hours: &[Hour], table: &[Row]) -> Vec<Fan> {
    let spread = |hour: &Hour| {
        let (mean_low, mean_high) = hour.mean_spread_kn?;
        let (gust_low, gust_high) = hour.gust_spread_kn?;
        Some([mean_low, gust_low, mean_high, gust_high])
    };
    known_stretches(hours, spread)
        .iter()
        .map(|stretch| {
            in_short_steps(stretch)
                .into_iter()
                .map(|(at, [mean_low, gust_low, mean_high, gust_high])| {
                    (
                        at,
                        picked(table, mean_low, gust_low),
                        picked(table, mean_high, gust_high),
                    )
                })
                .collect()
        })
        .collect()
}

/// Draws the fan; dashed edges where it comes from the floor alone.
pub(super) fn draw(drawing: &mut Drawing, layout: &Layout, advisory: &Advisory) {
    let edge = if floor_only(advisory) {
        "fanl floor"
    } else {
        "fanl"
    };
    for fan in fans(&advisory.hours, &advisory.reef_table) {
        let lower: Vec<_> = fan
            .iter()
            .map(|(at, low, _)| (layout.x(*at), layout.y(*low)))
            .collect();
        let upper: Vec<_> = fan
            .iter()
            .map(|(at, _, high)| (layout.x(*at), layout.y(*high)))
            .collect();
        let around: Vec<_> = upper.iter().chain(lower.iter().rev()).copied().collect();
        drawing.path("fan", &format!("{}z", line_through(&around)));
        drawing.path(edge, &line_through(&upper));
        drawing.path(edge, &line_through(&lower));
    }
}

/// Whether the spread shown comes from the floor alone.
pub(crate) fn floor_only(advisory: &Advisory) -> bool {
    advisory.hours.iter().any(|hour| hour.spread_from_floor)
}

/// Whether any spread is known.
pub(crate) fn is_known(advisory: &Advisory) -> bool {
    let both = |hour: &Hour| hour.mean_spread_kn.is_some() && hour.gust_spread_kn.is_some();
    advisory.hours.iter().any(both)
}

/// From when to when the upper and the lower edge of the fan rise past an edge of the table: an end is none where it
/// lies outside the hours drawn.
pub(super) fn crossing(advisory: &Advisory, edge: f64) -> Option<(Option<LocalTime>, Option<LocalTime>)> {
    let fans = fans(&advisory.hours, &advisory.reef_table);
    // A broken fan says nothing about the hours it leaves out.
    let [fan] = fans.as_slice() else { return None };
    let early = fan.iter().position(|(_, _, high)| *high > edge)?;
    let late = fan.iter().position(|(_, low, _)| *low > edge);
    let inside = |index: usize| (index > 0).then(|| fan[index].0);
    Some((inside(early), late.and_then(inside)))
}
