//! The crew's limits on the ladder: hatched strips between where the mean's and the gust's limit lie.

use super::layout::Layout;
use super::rows::{Measure, place};
use crate::svg::{Anchor, Drawing};
use crate::wording::{cut, tenth};
use advisory::document::{Advisory, LimitPair};

/// The level's limits on mean and gust, as hatched strips between where the two lie: caution dashed, stop solid.
pub(super) fn draw(drawing: &mut Drawing, layout: &Layout, advisory: &Advisory) {
    let pair = |key: &str| advisory.limits.iter().find(|limit| limit.quantity == key);
    let (mean, gust) = (pair("mean_kn"), pair("gust_kn"));
    let stop = strip(
        drawing,
        layout,
        advisory,
        (mean, gust),
        ("stop", |limit| limit.stop_at),
    );
    let caution = strip(
        drawing,
        layout,
        advisory,
        (mean, gust),
        ("caution", |limit| limit.caution_at),
    );
    if layout.narrow() {
        return;
    }
    // The sheet names the level right above.
    let level = if layout.on_the_sheet() {
        Vec::new()
    } else {
        name_lines(&advisory.session.level.name)
    };
    let apart = if layout.on_the_sheet() {
        16.0
    } else {
        19.0 + LINE * level.len() as f64
    };
    let first = if layout.on_the_sheet() { 4.0 } else { 0.0 };
    let mut below = f64::NEG_INFINITY;
    for (y, words) in [stop, caution].into_iter().flatten() {
        // The caution lies under the stop: its words give way downwards where the two are close.
        let y = (y - 4.0).max(below + apart);
        let x = layout.right + 8.0;
        let mut line = y + first;
        for name in &level {
            drawing.text("m b", (x, line), Anchor::Start, name);
            line += LINE;
        }
        let class = if layout.on_the_sheet() { "m b" } else { "m" };
        drawing.text(class, (x, line), Anchor::Start, &words);
        below = y;
    }
}

/// Between two lines of words.
const LINE: f64 = 15.0;
/// Signs that have room beside the plot.
const ROOM: usize = 14;

/// A level's name beside the plot, in two lines where it is too long for one: "Skippers in", "training".
fn name_lines(name: &str) -> Vec<String> {
    let long = |words: &str| words.chars().count() > ROOM;
    let mut ends = name.match_indices(' ').map(|(at, _)| at);
    match ends.rfind(|at| !long(&name[..*at])) {
        Some(at) if long(name) => vec![name[..at].to_owned(), cut(&name[at + 1..], ROOM)],
        _ => vec![cut(name, ROOM)],
    }
}

type Pairs<'a> = (Option<&'a LimitPair>, Option<&'a LimitPair>);

/// Draws one strip and tells its height and words: "stop 22 / 28" for mean and gust.
fn strip(
    drawing: &mut Drawing,
    layout: &Layout,
    advisory: &Advisory,
    (mean, gust): Pairs<'_>,
    (name, limit): (&str, fn(&LimitPair) -> f64),
) -> Option<(f64, String)> {
    let height = |measure, pair: &LimitPair| layout.y(place(&advisory.reef_table, measure, limit(pair)));
    let mean_y = mean.map(|pair| height(Measure::Mean, pair));
    let gust_y = gust.map(|pair| height(Measure::Gust, pair));
    let (first, second) = (mean_y.or(gust_y)?, gust_y.or(mean_y)?);
    // At least four pixels: a strip without height would not be seen.
    let top = first.min(second).min(first.max(second) - 4.0);
    let line = first.max(second);
    let (opacity, dash) = if name == "stop" {
        (1.0, "")
    } else {
        (0.55, " caution")
    };
    let pattern = format!("{}lim", layout.breadth.prefix());
    let plot = (layout.right - layout.left, line - top);
    drawing.hatch(&pattern, opacity, (layout.left, top), plot);
    drawing.path(
        &format!("stripl{dash}"),
        &format!("M{} {line:.1}H{}", layout.left, layout.right),
    );
    let words = match (mean, gust) {
        (Some(mean), Some(gust)) => format!("{name} {} / {}", tenth(limit(mean)), tenth(limit(gust))),
        (Some(mean), None) => format!("{name} {}", tenth(limit(mean))),
        (None, Some(gust)) => format!("{name} gust {}", tenth(limit(gust))),
        (None, None) => return None,
    };
    Some((line, words))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_name_has_two_lines_and_is_cut_only_where_they_do_not_hold_it() {
        assert_eq!(name_lines("Skippers in training"), ["Skippers in", "training"]);
        assert_eq!(name_lines("First days"), ["First days"]);
        assert_eq!(
            name_lines("Instructors’ refresher course"),
            ["Instructors’", "refresher cou…"]
        );
        assert_eq!(name_lines("Fortgeschrittene"), ["Fortgeschritt…"]);
    }
}
