//! Levels in plain lines: their traits, limits and lessons.
//!
//! Owns: those lines, the words for a limit. Must not know: boats, files, terminals.

use crate::level::{Lesson, Level, Limit, Quantity};
use crate::readable::count;
use seaway::{Knots, Metres};

/// The lines on one level.
pub(crate) fn level_lines(level: &Level) -> Vec<String> {
    let mut traits = Vec::new();
    traits.extend(level.learners.then(|| "learners".to_owned()));
    traits.extend(
        level
            .accumulate
            .then(|| "three cautions in one hour stop".to_owned()),
    );
    traits.extend(
        level
            .thunder_stops
            .then(|| "squalls of the policy stop".to_owned()),
    );
    traits.extend(
        (level.extra_reefs > 0).then(|| format!("{} more reefed", count(level.extra_reefs.into(), "row"))),
    );
    traits.push(format!("light below {} kn", level.light_below.0));
    traits.push(format!(
        "leaves with the sails of the next {} h",
        level.reef_ahead.num_minutes() as f64 / 60.0
    ));
    let mut lines = vec![format!("  {}: {}", level.name, traits.join(", "))];
    let limits = level.limits.iter();
    lines.extend(limits.map(|(quantity, limit)| format!("    {}", limit_words(*quantity, *limit))));
    lines.extend(level.syllabus.iter().map(lesson_line));
    lines
}

fn lesson_line(lesson: &Lesson) -> String {
    format!("    lesson {}: {}", lesson.name, lesson.hours_in_words())
}

impl Lesson {
    /// The hours it suits: `mean wind 8 to 14 kn, sea 0 to 0.6 m`.
    pub fn hours_in_words(&self) -> String {
        let wind = |(from, to): (Knots, Knots)| format!("mean wind {} to {} kn", from.0, to.0);
        let sea = |(from, to): (Metres, Metres)| format!("sea {} to {} m", from.0, to.0);
        let light = self.light_air.then(|| "for light air".to_owned());
        let hours: Vec<String> = [self.wind.map(wind), self.wave.map(sea), light]
            .into_iter()
            .flatten()
            .collect();
        match hours.is_empty() {
            true => "any wind and sea".to_owned(),
            false => hours.join(", "),
        }
    }
}

/// A pair of caution and stop in words.
pub(crate) fn limit_words(quantity: Quantity, limit: Limit) -> String {
    let side = if quantity.lower_is_worse() {
        "at or below"
    } else {
        "at or above"
    };
    let with_unit = |value: f64| format!("{value} {}", quantity.unit()).trim_end().to_owned();
    format!(
        "{}: caution {side} {}, stop {side} {}",
        quantity_name(quantity),
        with_unit(limit.caution_at),
        with_unit(limit.stop_at)
    )
}

/// A quantity in words.
pub(crate) fn quantity_name(quantity: Quantity) -> &'static str {
    match quantity {
        Quantity::Mean => "mean wind",
        Quantity::Gust => "gust",
        Quantity::WaveHeight => "wave height",
        Quantity::Steepness => "steepness",
        Quantity::CapeWithRain => "CAPE with rain",
        Quantity::BerthCrosswind => "wind across the berth",
        Quantity::Visibility => "visibility",
        Quantity::WindChill => "wind chill",
        Quantity::WaterTemperature => "water",
        Quantity::DaylightMargin => "daylight after being alongside",
    }
}
