//! A level's limits and traits in words.

use advisory::words::duration;
use club::{Lesson, Level, Limit, Policy, Quantity};

/// A level.
pub(super) struct LevelWords {
    pub name: String,
    /// Quantity, caution, stop.
    pub limits: Vec<(String, String, String)>,
    pub lines: Vec<String>,
}

/// A level in words.
pub(super) fn words(level: &Level, policy: &Policy) -> LevelWords {
    let limits = level.limits.iter();
    LevelWords {
        name: level.name.clone(),
        limits: limits.map(|(quantity, limit)| row(*quantity, *limit)).collect(),
        lines: traits(level, policy)
            .into_iter()
            .chain(level.syllabus.iter().map(lesson))
            .collect(),
    }
}

fn row(quantity: Quantity, limit: Limit) -> (String, String, String) {
    let side = if quantity.lower_is_worse() {
        "down to"
    } else {
        "from"
    };
    let words = |value: f64| {
        format!("{side} {value} {}", quantity.unit())
            .trim_end()
            .to_owned()
    };
    (
        name(quantity).to_owned(),
        words(limit.caution_at),
        words(limit.stop_at),
    )
}

/// A limit that stands elsewhere than at a level, in a sentence.
pub(super) fn limit_words(quantity: Quantity, limit: Limit) -> String {
    let (_, caution, stop) = row(quantity, limit);
    format!("caution {caution}, stop {stop}")
}

fn name(quantity: Quantity) -> &'static str {
    match quantity {
        Quantity::Mean => "Mean wind",
        Quantity::Gust => "Gusts",
        Quantity::WaveHeight => "Wave height",
        Quantity::Steepness => "Wave height over its length",
        Quantity::CapeWithRain => "Thunder (CAPE while it rains)",
        Quantity::BerthCrosswind => "Wind across the berth",
        Quantity::Visibility => "Visibility",
        Quantity::WindChill => "Wind chill",
        Quantity::WaterTemperature => "Water",
        Quantity::DaylightMargin => "Alongside before sunset by",
    }
}

fn traits(level: &Level, policy: &Policy) -> Vec<String> {
    let mut lines = Vec::new();
    if level.learners {
        lines.push("A crew of learners: cautions come earlier.".to_owned());
    }
    if level.accumulate {
        lines.push("Three cautions in one hour make a stop.".to_owned());
    }
    if level.thunder_stops {
        lines.push(format!(
            "Thunder stops it by itself: CAPE of {} J/kg or more with {} mm of rain an hour or more.",
            policy.squall_stop_cape_j_kg, policy.squall_stop_rain_mm_h
        ));
    }
    if level.extra_reefs > 0 {
        let rows = if level.extra_reefs == 1 { "row" } else { "rows" };
        lines.push(format!(
            "Sails {} {rows} more reefed than the wind asks for.",
            level.extra_reefs
        ));
    }
    lines.push(format!(
        "Leaves with what the next {} ask for.",
        duration(level.reef_ahead.num_minutes() as f64)
    ));
    let light = level
        .light_programme
        .as_deref()
        .map(|programme| format!(": {programme}"));
    lines.push(crate::wording::ended(&format!(
        "Below a mean of {} kn a go is light{}",
        level.light_below.0,
        light.unwrap_or_default()
    )));
    lines
}

fn lesson(lesson: &Lesson) -> String {
    format!("Lesson: {} ({}).", lesson.name, lesson.hours_in_words())
}
