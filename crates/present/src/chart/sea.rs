//! The sea under the ladder: the same hours across, wave height upwards, the level's caution and stop.

use super::entrance;
use super::gaps::{self, sea_gaps};
use super::ladder::hours;
use super::layout::{Breadth, Layout, known_stretches};
use crate::svg::{Anchor, Drawing, line_through};
use crate::wording::{clock, compass_point, metres, tenth};
use advisory::document::{Advisory, Hour, LimitPair, PassageView};

const TOP: f64 = 18.0;

/// The plot's heights.
struct Scale {
    bottom: f64,
    top_m: f64,
}

impl Scale {
    fn y(&self, metres: f64) -> f64 {
        self.bottom - (metres / self.top_m).clamp(0.0, 1.0) * (self.bottom - TOP)
    }
}

/// The drawing; none where no hour has a wave, no limit asks for one, and none is said to be missing.
pub(super) fn draw(advisory: &Advisory, breadth: Breadth) -> Option<String> {
    let layout = Layout::of(advisory, breadth)?;
    let limit = advisory.limits.iter().find(|limit| limit.quantity == "wave_m");
    let highest = advisory
        .hours
        .iter()
        .filter_map(|hour| hour.wave_m)
        .reduce(f64::max);
    if limit.is_none() && highest.is_none() {
        return None;
    }
    let stop = limit.map_or(0.0, |limit| limit.stop_at * 1.2);
    let scale = Scale {
        bottom: if layout.narrow() { 102.0 } else { 114.0 },
        top_m: stop.max(highest.unwrap_or(0.0) * 1.1).max(0.5),
    };
    let mut drawing = Drawing::default();
    open(&mut drawing, &layout, &scale, advisory);
    let gaps = sea_gaps(advisory);
    gaps::outline(&mut drawing, &layout, &gaps, (TOP, scale.bottom));
    waves(&mut drawing, &layout, &scale, &advisory.hours);
    if let Some(limit) = limit {
        limits(&mut drawing, &layout, &scale, limit);
    }
    session(&mut drawing, &layout, &scale, advisory);
    // Low down, under the level's limits; over the uprights of the passages.
    gaps::name(&mut drawing, &layout, &gaps, scale.bottom - 26.0);
    names(&mut drawing, &layout);
    hours(&mut drawing, &layout, &advisory.hours, scale.bottom + 16.0);
    drawing.add_piece("</svg>");
    Some(drawing.finish())
}

fn open(drawing: &mut Drawing, layout: &Layout, scale: &Scale, advisory: &Advisory) {
    let (class, id) = (layout.breadth.class(), layout.breadth.prefix());
    drawing.add(format_args!(
        r#"<svg class="ladder {class}" viewBox="0 0 {} {}" role="img" aria-labelledby="s{id}t">"#,
        layout.width,
        scale.bottom + 24.0
    ));
    drawing.named("title", &format!("s{id}t"), &title(advisory));
    drawing.add(format_args!(
        concat!(
            r#"<defs><pattern id="s{0}s" width="8" height="6" patternUnits="userSpaceOnUse">"#,
            r#"<path class="pat-sea" d="M0 3q2-2.2 4 0t4 0" fill="none" stroke-width="1"/></pattern>"#,
            r#"<pattern id="s{0}lim" width="5" height="5" patternUnits="userSpaceOnUse" patternTransform="rotate(-45)">"#,
            r#"<path class="pat-mag" d="M0 0V5" stroke-width="1.6"/></pattern></defs>"#
        ),
        id
    ));
}

/// "Sea at Pellock Sound: 0.4 m on leaving, 0.9 m from SW alongside; caution from 0.8 m, stop at 1.3 m."
fn title(advisory: &Advisory) -> String {
    let (first, last) = at_both_ends(advisory);
    let words = |hour: Option<&Hour>| hour.map_or_else(|| "missing".to_owned(), wave_words);
    let passages = advisory.entrance.as_ref().map(|entrance| {
        let words = |passage| entrance::sea_words(passage).unwrap_or_else(|| "missing".to_owned());
        format!(
            "; in {}: {} at {}, {} at {}",
            entrance.name,
            words(&entrance.out),
            clock(entrance.out.at),
            words(&entrance.home),
            clock(entrance.home.at)
        )
    });
    let passages = passages.unwrap_or_default();
    let limit = advisory.limits.iter().find(|limit| limit.quantity == "wave_m");
    let limit = limit.map(|limit| {
        format!(
            "; caution from {} m, stop at {} m",
            tenth(limit.caution_at),
            tenth(limit.stop_at)
        )
    });
    let venue = &advisory.session.venue.name;
    let limit = limit.unwrap_or_default();
    format!(
        "Sea at {venue}: {} on leaving, {} alongside{passages}{limit}.",
        words(first),
        words(last)
    )
}

fn wave_words(hour: &Hour) -> String {
    let Some(height) = hour.wave_m else {
        return "missing".to_owned();
    };
    let from = hour
        .wave_from_deg
        .map(|degrees| format!(" from {}", compass_point(degrees)))
        .unwrap_or_default();
    format!("{} m{from}", metres(height))
}

/// The hours at or after leaving and at or before being alongside.
fn at_both_ends(advisory: &Advisory) -> (Option<&Hour>, Option<&Hour>) {
    let hours = &advisory.hours;
    let first = hours.iter().find(|hour| hour.at >= advisory.session.leaves);
    (
        first,
        hours
            .iter()
            .rev()
            .find(|hour| hour.at <= advisory.session.alongside),
    )
}

fn waves(drawing: &mut Drawing, layout: &Layout, scale: &Scale, hours: &[Hour]) {
    for (hour, _) in layout.marked_hours(hours) {
        drawing.path(
            "hour",
            &format!("M{:.1} {TOP}V{}", layout.x(hour.at), scale.bottom),
        );
    }
    for stretch in known_stretches(hours, |hour| hour.wave_m) {
        let line: Vec<_> = stretch
            .iter()
            .map(|(at, height)| (layout.x(*at), scale.y(*height)))
            .collect();
        let (left, right) = (line[0].0, line[line.len() - 1].0);
        let bottom = scale.bottom;
        let under = format!("{}L{right:.1} {bottom}L{left:.1} {bottom}z", line_through(&line));
        drawing.path("r2", &under);
        let pattern = format!("s{}s", layout.breadth.prefix());
        drawing.add(format_args!(r#"<path d="{under}" fill="url(#{pattern})"/>"#));
        drawing.path("seal", &line_through(&line));
    }
}

fn limits(drawing: &mut Drawing, layout: &Layout, scale: &Scale, limit: &LimitPair) {
    let pattern = format!("s{}lim", layout.breadth.prefix());
    let width = layout.right - layout.left;
    for (name, value, opacity, dash) in [
        ("caution", limit.caution_at, 0.55, " caution"),
        ("stop", limit.stop_at, 1.0, ""),
    ] {
        let y = scale.y(value);
        drawing.hatch(&pattern, opacity, (layout.left, y - 4.0), (width, 4.0));
        drawing.path(
            &format!("stripl{dash}"),
            &format!("M{} {y:.1}H{}", layout.left, layout.right),
        );
        if layout.narrow() {
            let words = format!("{name} {}", tenth(value));
            drawing.text("m", (layout.left - 5.0, y + 4.0), Anchor::End, &words);
        } else {
            let words = format!("{name} {} m", tenth(value));
            drawing.text("m", (layout.right + 8.0, y + 4.0), Anchor::Start, &words);
        }
    }
}

fn session(drawing: &mut Drawing, layout: &Layout, scale: &Scale, advisory: &Advisory) {
    let (leave, back) = (
        layout.x(advisory.session.leaves),
        layout.x(advisory.session.alongside),
    );
    let height = scale.bottom - TOP;
    drawing.rect("veil", (layout.left, TOP), (leave - layout.left, height));
    drawing.rect("veil", (back, TOP), (layout.right - back, height));
    drawing.rect("frame", (layout.left, TOP), (layout.right - layout.left, height));
    let Some((first, last)) = labelled(advisory) else {
        return;
    };
    if let Some(entrance) = &advisory.entrance {
        entrance::draw_on_sea(drawing, layout, entrance, (TOP, scale.bottom));
    }
    for (passage, right, anchor) in [(first, 6.0, Anchor::Start), (last, -6.0, Anchor::End)] {
        if let (Some(words), Some(height)) = (entrance::sea_words(&passage), passage.wave_m) {
            let y = (scale.y(height) - 8.0).max(TOP + 12.0);
            drawing.text("b halo", (layout.x(passage.at) + right, y), anchor, &words);
        }
    }
}

/// Where value and period are written: at both passages of the entrance; without one, on leaving and alongside.
fn labelled(advisory: &Advisory) -> Option<(PassageView, PassageView)> {
    if let Some(entrance) = &advisory.entrance {
        return Some((entrance.out.clone(), entrance.home.clone()));
    }
    let of_hour = |hour: &Hour| PassageView {
        at: hour.at,
        wave_m: hour.wave_m,
        wave_period_s: hour.wave_period_s,
    };
    let (first, last) = at_both_ends(advisory);
    Some((of_hour(first?), of_hour(last?)))
}

fn names(drawing: &mut Drawing, layout: &Layout) {
    if !layout.narrow() {
        drawing.text("ser", (6.0, 46.0), Anchor::Start, "Sea");
        drawing.text("dim", (6.0, 65.0), Anchor::Start, "height of the higher");
        drawing.text("dim", (6.0, 81.0), Anchor::Start, "third of the waves");
    }
}
