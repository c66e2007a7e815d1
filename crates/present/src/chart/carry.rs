//! What to carry, under the hours: one box for each stretch between two changes of sail.

use super::ladder::tint;
use super::layout::Layout;
use crate::sail_glyph::sail_glyph_at;
use crate::shown::Shown;
use crate::svg::{Anchor, Drawing};
use crate::wording::{fraction, headsail_words, main_words};
use advisory::document::{LocalTime, Plan, Sail};

/// Stretches of one sail plan, in order of time, up to coming alongside or to the end of the table.
fn stretches(plan: &Plan, leaves: LocalTime, alongside: LocalTime) -> Vec<(LocalTime, LocalTime, &Sail)> {
    let end = plan.past_table_from.map_or(alongside, |from| from.min(alongside));
    let mut found = Vec::new();
    let (mut from, mut sail) = (leaves, &plan.leave_with);
    for change in &plan.changes {
        found.push((from, change.at.min(end), sail));
        (from, sail) = (change.at, &change.sail);
    }
    found.push((from, end, sail));
    found.retain(|(from, to, _)| to > from);
    found
}

/// Draws the boxes; nothing where no plan may be shown.
pub(super) fn draw(drawing: &mut Drawing, layout: &Layout, shown: Shown<'_>) {
    let Some(plan) = shown.plan() else { return };
    let session = &shown.advisory.session;
    let height = if layout.narrow() { 46.0 } else { 38.0 };
    let top = layout.base() + 26.0;
    for (from, to, sail) in stretches(plan, session.leaves, session.alongside) {
        let (left, right) = (layout.x(from), layout.x(to));
        drawing.rect(
            &format!("carry {}", tint(sail.row)),
            (left, top),
            (right - left, height),
        );
        contents(drawing, sail, (left, right), (top, height));
    }
    if !layout.narrow() {
        drawing.text("dim", (layout.left - 10.0, top + 23.0), Anchor::End, "carry");
    }
    if let Some(from) = plan.past_table_from.filter(|from| *from < session.alongside) {
        let (left, right) = (layout.x(from), layout.x(session.alongside));
        drawing.rect("carry none", (left, top), (right - left, height));
        if right - left >= 70.0 {
            drawing.text("b", (left + 5.0, top + 23.0), Anchor::Start, "not sailed");
        }
    }
}

fn contents(drawing: &mut Drawing, sail: &Sail, (left, right): (f64, f64), (top, height): (f64, f64)) {
    let room = right - left;
    let middle = top + height / 2.0;
    if room >= 34.0 {
        let x = if room >= 104.0 {
            left + 6.0
        } else {
            (left + right) / 2.0 - 15.0
        };
        drawing.add_piece(&sail_glyph_at(sail, (x, middle - 15.0), 30.0));
    }
    if room >= 104.0 {
        let headsail = if room >= 116.0 {
            headsail_words(sail)
        } else {
            format!("{} head.", fraction(sail.headsail))
        };
        drawing.text("b", (left + 41.0, middle - 3.0), Anchor::Start, &main_words(sail));
        drawing.text("", (left + 41.0, middle + 13.0), Anchor::Start, &headsail);
    }
}
