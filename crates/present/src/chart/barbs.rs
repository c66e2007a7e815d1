//! Wind barbs as the WMO draws them (Manual on the Global Data-processing and Forecasting System, station model):
//! half feather 5 kn, feather 10 kn, pennant 50 kn, on the clockwise side north of the equator and mirrored south of it.

use super::layout::Layout;
use crate::svg::Drawing;
use advisory::document::Advisory;
use std::fmt::Write as _;

const STAFF: f64 = 20.0;
/// Between two feathers along the staff.
const STEP: f64 = 4.6;

/// A barb every two hours, the middle of the staff on its hour.
pub(super) fn draw(drawing: &mut Drawing, layout: &Layout, advisory: &Advisory) {
    let hours = &advisory.hours;
    let apart = (layout.right - layout.left) / hours.len().max(1) as f64;
    let every = ((30.0 / apart).ceil() as usize).max(2);
    // Half a step in from the left, so that no barb hangs over the edge.
    for hour in hours.iter().skip(1).step_by(every) {
        let room = layout.x(hour.at) + STAFF / 2.0 + 2.0 <= layout.width;
        if let (Some(mean), Some(from), true) = (hour.mean_kn, hour.from_deg, room) {
            let place = (layout.x(hour.at), layout.barbs());
            barb(drawing, place, (mean, from), advisory.southern);
        }
    }
}

fn barb(drawing: &mut Drawing, (x, y): (f64, f64), (mean_kn, from_deg): (f64, f64), southern: bool) {
    let mirrored = if southern { " scale(-1 1)" } else { "" };
    let (sin, cos) = from_deg.to_radians().sin_cos();
    let (x, y) = (x - STAFF / 2.0 * sin, y + STAFF / 2.0 * cos);
    drawing.add(format_args!(
        r#"<g transform="translate({x:.1} {y:.1}) rotate({from_deg:.0}){mirrored}"><path class="barb" d="{}"/><circle class="stn" r="2.4"/></g>"#,
        feathers(mean_kn)
    ));
}

/// Path of staff and feathers, the staff upwards from the station at the origin.
fn feathers(mean_kn: f64) -> String {
    let mut fives = (mean_kn / 5.0).round().clamp(0.0, 40.0) as u32;
    if fives == 0 {
        return "M0 -4a4 4 0 1 1 .1 8a4 4 0 1 1 -.1 -8".to_owned();
    }
    let mut path = format!("M0 0V-{STAFF}");
    // A half feather alone stands in from the end, so that it is not read as a feather.
    let mut at = if fives == 1 { STAFF - STEP } else { STAFF };
    while fives >= 10 {
        let _ = write!(path, "M0 -{at:.1}L8 -{:.1}L0 -{:.1}z", at - 1.0, at - STEP);
        at -= STEP + 1.0;
        fives -= 10;
    }
    while fives >= 2 {
        let _ = write!(path, "M0 -{at:.1}L8 -{:.1}", at + 3.5);
        at -= STEP;
        fives -= 2;
    }
    if fives == 1 {
        let _ = write!(path, "M0 -{at:.1}L4.4 -{:.1}", at + 2.0);
    }
    path
}

#[cfg(test)]
mod tests {
    use super::*;

    // Source: the WMO's values of feather and pennant, as named above.
    #[test]
    fn feathers_and_pennants_add_up_to_the_wind() {
        for (knots, pennants, full, half) in [
            (5.0, 0, 0, 1),
            (12.0, 0, 1, 0),
            (17.0, 0, 1, 1),
            (24.0, 0, 2, 1),
            (48.0, 1, 0, 0),
            (66.0, 1, 1, 1),
        ] {
            let path = feathers(knots);
            assert_eq!(path.matches('z').count(), pennants, "{knots} kn: {path}");
            assert_eq!(path.matches("L8").count() - pennants, full, "{knots} kn: {path}");
            assert_eq!(path.matches("L4.4").count(), half, "{knots} kn: {path}");
        }
        assert!(!feathers(2.0).contains('L'), "a calm has no staff");
    }
}
