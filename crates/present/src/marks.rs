//! The call marks, the strokes of how sure, and the tally of members. Each stands beside its words and is hidden from
//! screen readers, which read the words.

use crate::svg::Drawing;
use advisory::document::{CallWord, Firmness, Sureness};

/// The mark of a call, 24 x 24: an entrance seen from above.
pub(crate) fn call_mark(call: CallWord) -> String {
    let shape = match call {
        CallWord::Go => concat!(
            r#"<path class="bg go" d="M4.5 0h15v24h-15z"/>"#,
            r#"<path d="M0 0h4.5v24H0zM19.5 0H24v24h-4.5zM12 3.5 17 20.5H7z"/>"#
        ),
        CallWord::Marginal => concat!(
            r#"<path class="bg mg" d="M0 0h24v24H0z"/>"#,
            r#"<path d="M0 0h15v9.2H0zM9 14.8h15V24H9z"/>"#
        ),
        CallWord::NoGo => r#"<path fill-rule="evenodd" d="M0 0h24v24H0zM4.2 9.6v4.8h15.6V9.6z"/>"#,
        CallWord::NoCall => r#"<path class="open" d="M1.6 1.6h20.8v20.8H1.6z"/>"#,
    };
    format!(r#"<svg class="mark" viewBox="0 0 24 24" aria-hidden="true" focusable="false">{shape}</svg>"#)
}

/// Three strokes: as many solid ones as the call can be leaned on.
pub(crate) fn sureness_strokes(firmness: Firmness) -> String {
    let solid = match firmness {
        Firmness::Firm => 3,
        Firmness::Likely => 2,
        Firmness::EarlyView => 1,
    };
    let mut drawing = Drawing::default();
    drawing.add_piece(r#"<svg viewBox="0 0 20 20" aria-hidden="true" focusable="false">"#);
    for (stroke, y) in [16, 10, 4].into_iter().enumerate() {
        let class = if stroke < solid { "on" } else { "off" };
        drawing.path(class, &format!("M1 {y}H19"));
    }
    drawing.add_piece("</svg>");
    drawing.finish()
}

/// One upright a member: go short and hollow, marginal thin, no-go tall and thick. Nothing without members.
pub(crate) fn tally(sureness: &Sureness) -> Option<String> {
    let counted = u32::from(sureness.go) + u32::from(sureness.marginal) + u32::from(sureness.no_go);
    if counted == 0 || counted > 200 {
        return None;
    }
    let step = 9.4_f64.min(470.0 / f64::from(counted));
    let thick = step * 0.64;
    let mut drawing = Drawing::default();
    drawing.add(format_args!(
        r#"<svg class="tally" viewBox="0 0 500 42" role="img" aria-label="Of {counted} members, {} say go, {} marginal, {} no-go.">"#,
        sureness.go, sureness.marginal, sureness.no_go
    ));
    let mut x = 2.0;
    let groups = [
        (sureness.go, "o", 28.0, thick * 0.77),
        (sureness.marginal, "t", 18.0, 2.0_f64.min(thick)),
        (sureness.no_go, "t", 6.0, thick),
    ];
    for (members, class, top, width) in groups {
        for _ in 0..members {
            drawing.rect(class, (x, top), (width, 40.0 - top));
            x += step;
        }
        if members > 0 {
            x += step * 0.8;
        }
    }
    drawing.add_piece("</svg>");
    Some(drawing.finish())
}
