//! Legs and lessons of a document, with their words.
//!
//! Owns: what is said of them. Must not know: how a leg lies to the wind, which hours suit a lesson.

use crate::document::{LegView, LessonFit, Span};
use crate::plan_words::rounded;
use crate::words::{hour_minute, local, number};
use chrono_tz::Tz;
use rules::legs::{LegSailed, Lie};
use seaway::point_of_sail::PointOfSail;

/// One leg of the document.
pub fn leg_of(found: &LegSailed, zone: Tz) -> LegView {
    let (course, distance) = (found.leg.bearing.degrees(), found.leg.distance.0);
    LegView {
        course_deg: rounded(course, 1),
        distance_nm: rounded(distance, 2),
        at: local(found.from, zone),
        wind_angle_deg: found.lie.map(|lie| rounded(lie.true_wind_angle, 0)),
        tacked_nm: found
            .lie
            .and_then(|lie| lie.tacked)
            .map(|tacked| rounded(tacked.0, 2)),
        title: format!(
            "Course {:03.0}, {} nm",
            course.round() % 360.0,
            number(distance, 1)
        ),
        words: found
            .lie
            .map_or_else(|| "the wind is not known".to_owned(), lie_words),
    }
}

/// "broad reach, the wind 140° off the bow".
fn lie_words(lie: Lie) -> String {
    let point = match lie.point_of_sail {
        // "No-go" is a call.
        PointOfSail::NoGoZone => "too close to the wind to sail",
        PointOfSail::CloseHauled => "close hauled",
        PointOfSail::Running => "run",
        reach => reach.name(),
    };
    let tacks = lie.tacked.map_or_else(String::new, |tacked| {
        format!("; {} nm in tacks at {:.0}°", number(tacked.0, 1), lie.closest_deg)
    });
    format!("{point}, the wind {:.0}° off the bow{tacks}", lie.true_wind_angle)
}

/// One lesson of the document.
pub fn lesson_of(found: &rules::lessons::LessonFit<'_>, zone: Tz) -> LessonFit {
    let spans: Vec<Span> = found
        .spans
        .iter()
        .map(|&(from, to)| Span {
            from: local(from, zone),
            to: local(to, zone),
        })
        .collect();
    LessonFit {
        name: found.lesson.name.clone(),
        light_air: found.lesson.light_air,
        words: spans_words(&spans),
        spans,
    }
}

/// "10:00 to 12:00, 13:00 and 15:00 to 16:00".
fn spans_words(spans: &[Span]) -> String {
    let words: Vec<String> = spans
        .iter()
        .map(|span| match (hour_minute(span.from), hour_minute(span.to)) {
            (from, to) if from == to => from,
            (from, to) => format!("{from} to {to}"),
        })
        .collect();
    match words.as_slice() {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use seaway::NauticalMiles;

    #[test]
    fn a_leg_says_its_point_of_sail_and_its_tacks() {
        let lie = |true_wind_angle: f64, tacked: Option<f64>| Lie {
            true_wind_angle,
            closest_deg: 52.0,
            point_of_sail: PointOfSail::of(true_wind_angle, 52.0),
            tacked: tacked.map(NauticalMiles),
        };
        assert_eq!(
            lie_words(lie(10.0, Some(6.48))),
            "too close to the wind to sail, the wind 10° off the bow; 6.5 nm in tacks at 52°"
        );
        assert_eq!(
            lie_words(lie(55.0, None)),
            "close hauled, the wind 55° off the bow"
        );
        assert_eq!(
            lie_words(lie(140.0, None)),
            "broad reach, the wind 140° off the bow"
        );
        assert_eq!(lie_words(lie(178.0, None)), "run, the wind 178° off the bow");
    }
}
