//! What speaks on the ladder: the session's bracket, sunset, reefs due, and the values on the lines.

use super::layout::{Breadth, Layout};
use super::rows::{Measure, picked, place};
use super::spread;
use crate::shown::Shown;
use crate::svg::{Anchor, Drawing};
use crate::wording::{clock, ordinal, whole};
use advisory::document::{Advisory, Hour, LocalTime, PlanChange, Sail};

/// When the tenth and the ninetieth percentile cross an edge; none where that lies outside the hours drawn.
type Range = (Option<LocalTime>, Option<LocalTime>);

/// The hatch after sunset.
pub(super) fn night(drawing: &mut Drawing, layout: &Layout, advisory: &Advisory) {
    // A sun that set before the first hour leaves all of them dark.
    let Some(sunset) = advisory.sunset.filter(|sunset| layout.reaches(*sunset)) else {
        return;
    };
    let x = layout.x(sunset);
    let pattern = format!("{}night", layout.breadth.prefix());
    let size = (layout.right - x, layout.base() - layout.top);
    drawing.hatch(&pattern, 1.0, (x, layout.top), size);
    if !layout.narrow() {
        let x = x.max(layout.x(advisory.session.alongside)) + 4.0;
        drawing.text(
            "dim",
            (x, layout.top - 6.0),
            Anchor::Start,
            &format!("sunset {}", clock(sunset)),
        );
    }
}

/// The veil outside the session, its bracket and its words.
pub(super) fn session(drawing: &mut Drawing, layout: &Layout, advisory: &Advisory) {
    let session = &advisory.session;
    let (leave, back) = (layout.x(session.leaves), layout.x(session.alongside));
    let height = layout.base() - layout.top;
    drawing.rect("veil", (layout.left, layout.top), (leave - layout.left, height));
    drawing.rect("veil", (back, layout.top), (layout.right - back, height));
    let (top, bracket) = (layout.top, layout.top - 22.0);
    drawing.path(
        "span",
        &format!("M{leave:.1} {top:.1}V{bracket:.1}H{back:.1}V{top:.1}"),
    );
    let leaves = format!("leave {}", clock(session.leaves));
    let word = if layout.narrow() { "in" } else { "alongside" };
    let alongside = format!("{word} {}", clock(session.alongside));
    let room = if layout.narrow() { 130.0 } else { 190.0 };
    let y = bracket - 6.0;
    if back - leave >= room {
        drawing.text("b", (leave, y), Anchor::Start, &leaves);
        drawing.text("b", (back, y), Anchor::End, &alongside);
    } else {
        let middle = ((leave + back) / 2.0).clamp(layout.left, layout.right - room / 2.0);
        drawing.text("b", (middle - 5.0, y), Anchor::End, &leaves);
        drawing.text("b", (middle + 5.0, y), Anchor::Start, &alongside);
    }
    if !layout.narrow() {
        drawing.text(
            "dim",
            (layout.left - 10.0, layout.barbs() + 4.0),
            Anchor::End,
            "wind from",
        );
    }
}

/// A diamond with its words at each change of sail; where there are more than three, the first and the most reefed.
pub(super) fn reefs_due(drawing: &mut Drawing, layout: &Layout, shown: Shown<'_>) {
    let Some(plan) = shown.plan() else { return };
    let mut before = &plan.leave_with;
    let mut due = Vec::new();
    for change in &plan.changes {
        due.push((change, before));
        before = &change.sail;
    }
    if due.len() > 3 {
        let most = due.iter().map(|(change, _)| change.sail.row).max();
        let worst = due.iter().position(|(change, _)| Some(change.sail.row) == most);
        let first = due.iter().position(|(change, _)| !change.shaking_out);
        due = [first, worst.filter(|index| Some(*index) != first)]
            .into_iter()
            .flatten()
            .map(|index| due[index])
            .collect();
    }
    let (first, apart) = if layout.on_the_sheet() {
        (38.0, 18.0)
    } else {
        (42.0, 40.0)
    };
    let mut text_y = layout.top + first;
    for (change, before) in due {
        text_y = clear_of_limits(layout, shown.advisory, text_y);
        reef_due(drawing, layout, shown.advisory, (change, before), text_y);
        text_y += apart;
    }
}

/// The first height from here down at which the two lines of words have no limit's line through them.
fn clear_of_limits(layout: &Layout, advisory: &Advisory, from: f64) -> f64 {
    let measure = |key: &str| match key {
        "mean_kn" => Some(Measure::Mean),
        "gust_kn" => Some(Measure::Gust),
        _ => None,
    };
    let lines: Vec<f64> = advisory
        .limits
        .iter()
        .filter_map(|limit| measure(&limit.quantity).map(|measure| (measure, limit)))
        .flat_map(|(measure, limit)| [(measure, limit.caution_at), (measure, limit.stop_at)])
        .map(|(measure, knots)| layout.y(place(&advisory.reef_table, measure, knots)))
        .collect();
    let one_line = layout.narrow() || layout.on_the_sheet();
    let second = if one_line { 3.0 } else { 20.0 };
    let clear = |y: f64| lines.iter().all(|line| *line < y - 15.0 || *line > y + second);
    (0..20)
        .map(|step| from + 4.0 * f64::from(step))
        .find(|y| clear(*y))
        .unwrap_or(from)
}

fn reef_due(
    drawing: &mut Drawing,
    layout: &Layout,
    advisory: &Advisory,
    (change, before): (&PlanChange, &Sail),
    text_y: f64,
) {
    let edge = if change.shaking_out {
        change.sail.row + 1
    } else {
        change.sail.row
    };
    let (x, y) = (layout.x(change.at), layout.y(edge as f64));
    let range = range_of(advisory, change);
    if let Some((early, late)) = range {
        let from = early.map_or(layout.left, |at| layout.x(at));
        let to = late.map_or(layout.right, |at| layout.x(at));
        drawing.path(
            "ml",
            &format!(
                "M{from:.1} {y:.1}H{to:.1}M{from:.1} {:.1}v10M{to:.1} {:.1}v10",
                y - 5.0,
                y - 5.0
            ),
        );
    }
    drawing.path(
        "ml thin",
        &format!("M{x:.1} {:.1}V{:.1}", layout.base(), text_y - 10.0),
    );
    let diamond = if change.shaking_out { "mo" } else { "m" };
    drawing.path(diamond, &format!("M{x:.1} {:.1}l7 7-7 7-7-7z", y - 7.0));
    let room = match layout.breadth {
        Breadth::Narrow => 110.0,
        Breadth::Sheet(_) => 170.0,
        Breadth::Wide | Breadth::Middle => 230.0,
    };
    let (before_it, after_it) = (x - layout.left, layout.right - x);
    let (x, anchor) = if before_it >= room || before_it >= after_it {
        (x - 7.0, Anchor::End)
    } else {
        (x + 7.0, Anchor::Start)
    };
    let words = due_words(change, before, layout.narrow());
    let one_line = layout.narrow() || layout.on_the_sheet();
    let class = if one_line {
        "m ser halo2"
    } else {
        "m ser due halo2"
    };
    drawing.text(class, (x, text_y), anchor, &words);
    if let (Some(range), false) = (range, one_line) {
        drawing.text("m halo2", (x, text_y + 17.0), anchor, &range_words(range));
    }
}

/// When by the spread less sail is due; none for shaking out.
fn range_of(advisory: &Advisory, change: &PlanChange) -> Option<Range> {
    (!change.shaking_out)
        .then(|| spread::crossing(advisory, change.sail.row as f64))
        .flatten()
}

/// The same in words.
pub(super) fn due_by_the_spread(advisory: &Advisory, change: &PlanChange) -> Option<String> {
    range_of(advisory, change).map(range_words)
}

/// "second reef due 15:00".
pub(super) fn due_words(change: &PlanChange, before: &Sail, short: bool) -> String {
    let at = clock(change.at);
    let reefs = change.sail.reefs;
    if change.shaking_out {
        format!("shake out {at}")
    } else if reefs > before.reefs && short {
        let ending = ["th", "st", "nd", "rd"].get(usize::from(reefs)).unwrap_or(&"th");
        format!("{reefs}{ending} reef {at}")
    } else if reefs > before.reefs {
        format!("{} reef due {at}", ordinal(reefs))
    } else if short {
        format!("less sail {at}")
    } else {
        format!("less headsail due {at}")
    }
}

/// "by the spread 13:00 to 16:10".
fn range_words((early, late): Range) -> String {
    match (early, late) {
        (Some(early), Some(late)) => format!("by the spread {} to {}", clock(early), clock(late)),
        (Some(early), None) => format!("by the spread from {}", clock(early)),
        (None, Some(late)) => format!("by the spread until {}", clock(late)),
        (None, None) => "by the spread at any hour".to_owned(),
    }
}

/// Pixels between the two hours whose values are named, at least: nearer, their words would meet.
const VALUES_APART: f64 = 130.0;

/// "gust 17" and "mean 11" once in the middle of the session, and at its last hour. Both are named both times: which of
/// the two lines is the higher may have changed in between.
pub(super) fn values(drawing: &mut Drawing, layout: &Layout, advisory: &Advisory) {
    let out: Vec<&Hour> = advisory
        .hours
        .iter()
        .filter(|hour| hour.at >= advisory.session.leaves && hour.at <= advisory.session.alongside)
        .collect();
    let Some(middle) = out.get(out.len().saturating_sub(1) / 3) else {
        return;
    };
    let estimated = if middle.gust_estimated { " estimated" } else { "" };
    let (gust, mean) = (format!("gust{estimated} "), "mean ".to_owned());
    pair(drawing, layout, advisory, middle, (&gust, &mean), Anchor::Start);
    let apart = |last: &&&Hour| layout.x(last.at) - layout.x(middle.at) > VALUES_APART;
    if let (Some(last), false) = (out.last().filter(apart), layout.narrow()) {
        pair(drawing, layout, advisory, last, ("gust ", "mean "), Anchor::End);
    }
}

/// The words of the higher line above it, those of the lower line below.
fn pair(
    drawing: &mut Drawing,
    layout: &Layout,
    advisory: &Advisory,
    hour: &Hour,
    (gust_name, mean_name): (&str, &str),
    anchor: Anchor,
) {
    let table = &advisory.reef_table;
    let places = (
        hour.mean_kn
            .map(|knots| (knots, place(table, Measure::Mean, knots))),
        hour.gust_kn
            .map(|knots| (knots, place(table, Measure::Gust, knots))),
    );
    let mean_is_higher =
        matches!(places, (Some((mean, at)), Some((gust, _))) if at >= picked(table, mean, gust) && at > 0.0);
    let (class, x) = match anchor {
        Anchor::End => ("b halo", layout.x(hour.at) - 4.0),
        Anchor::Start | Anchor::Middle => ("halo", layout.x(hour.at) + 7.0),
    };
    let named = |value: Option<(f64, f64)>, name: &str| {
        value.map(|(knots, at)| (layout.y(at), format!("{name}{}", whole(knots))))
    };
    let (gust, mean) = (named(places.1, gust_name), named(places.0, mean_name));
    let (higher, lower) = if mean_is_higher {
        (mean, gust)
    } else {
        (gust, mean)
    };
    let heights = heights(
        layout,
        higher.as_ref().map(|line| line.0),
        lower.as_ref().map(|line| line.0),
    );
    for ((_, words), y) in [higher.zip(heights.0), lower.zip(heights.1)]
        .into_iter()
        .flatten()
    {
        drawing.text(class, (x, y), anchor, &words);
    }
}

/// Where the words of the higher and of the lower line stand: above the one and below the other, or both on one side
/// where the plot ends.
fn heights(layout: &Layout, higher: Option<f64>, lower: Option<f64>) -> (Option<f64>, Option<f64>) {
    let top = higher.or(lower).map_or(0.0, |line| line - 11.0);
    let bottom = lower.or(higher).map_or(0.0, |line| line + 19.0);
    let (above, below) = if bottom > layout.base() - 3.0 {
        (top - 17.0, top)
    } else if top < layout.top + 12.0 {
        (bottom, bottom + 17.0)
    } else {
        (top, bottom)
    };
    (higher.map(|_| above), lower.map(|_| below))
}
