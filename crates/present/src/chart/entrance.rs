//! The entrance on the charts: a dotted upright with two small piers at each of its two passages, and their words.

use super::layout::Layout;
use crate::svg::{Anchor, Drawing};
use crate::wording::{clock, cut, metres, whole};
use advisory::document::{Advisory, EntranceView, PassageView};

/// Width of a letter at the chart's 13 px, on average and a little more: words that do not fit are left out.
const LETTER: f64 = 7.2;

/// The uprights on the ladder, with "Gut out 09:50" and "Gut in 16:35" inside the session's bracket.
pub(super) fn draw(drawing: &mut Drawing, layout: &Layout, advisory: &Advisory) {
    let Some(entrance) = &advisory.entrance else {
        return;
    };
    let (out, home) = (layout.x(entrance.out.at), layout.x(entrance.home.at));
    for x in [out, home] {
        upright(drawing, layout, x);
    }
    let Some((out_words, home_words)) = words(entrance, home - out - 28.0) else {
        return;
    };
    let y = layout.top - 6.0;
    drawing.text("", (out + 10.0, y), Anchor::Start, &out_words);
    drawing.text("", (home - 10.0, y), Anchor::End, &home_words);
}

/// The dotted upright with its piers.
fn upright(drawing: &mut Drawing, layout: &Layout, x: f64) {
    let (top, base) = (layout.top - 8.0, layout.base());
    drawing.path("pass", &format!("M{x:.1} {top:.1}V{base:.1}"));
    let pier = layout.top - 16.0;
    drawing.path(
        "pier",
        &format!(
            "M{:.1} {pier:.1}h3v11h-3zM{:.1} {pier:.1}h3v11h-3z",
            x - 6.0,
            x + 3.0
        ),
    );
}

/// The words of both passages as far as there is room between them: with the entrance's name, without, or none.
fn words(entrance: &EntranceView, room: f64) -> Option<(String, String)> {
    let (out, home) = (clock(entrance.out.at), clock(entrance.home.at));
    let name = cut(&entrance.name, 14);
    let named = (format!("{name} out {out}"), format!("{name} in {home}"));
    let bare = (format!("out {out}"), format!("in {home}"));
    let fits = |(first, second): &(String, String)| {
        let letters = first.chars().count() + second.chars().count() + 2;
        letters as f64 * LETTER <= room
    };
    [named, bare].into_iter().find(fits)
}

/// The same uprights through the sea.
pub(super) fn draw_on_sea(
    drawing: &mut Drawing,
    layout: &Layout,
    entrance: &EntranceView,
    (top, bottom): (f64, f64),
) {
    for passage in [&entrance.out, &entrance.home] {
        drawing.path(
            "pass",
            &format!("M{:.1} {top:.1}V{bottom:.1}", layout.x(passage.at)),
        );
    }
}

/// "Through the Gut out at 09:50 and in at 16:35."
pub(super) fn sentence(entrance: &EntranceView) -> String {
    format!(
        "Passing {}: out at {}, in at {}.",
        entrance.name,
        clock(entrance.out.at),
        clock(entrance.home.at)
    )
}

/// "0.9 m, 5 s"; none where the height is missing.
pub(super) fn sea_words(passage: &PassageView) -> Option<String> {
    let height = metres(passage.wave_m?);
    Some(match passage.wave_period_s {
        Some(period) => format!("{height} m, {} s", whole(period)),
        None => format!("{height} m"),
    })
}
