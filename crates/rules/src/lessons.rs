//! Lessons: which of a level's syllabus the hours out suit.
//!
//! Owns: the match of bands and hours. Must not know: sentences, what a lesson is about.

use crate::call::Call;
use crate::outing::Outing;
use crate::verdict::VerdictHour;
use chrono::{DateTime, Utc};
use club::Lesson;

/// A lesson and the hours that suit it.
#[derive(Clone, Debug, PartialEq)]
pub struct LessonFit<'a> {
    /// The lesson.
    pub lesson: &'a Lesson,
    /// First and last hour of each unbroken stretch, in order; never empty.
    pub spans: Vec<(DateTime<Utc>, DateTime<Utc>)>,
}

/// The lessons that some hour out suits, in the syllabus's order; none where she does not leave.
///
/// An hour suits a lesson when its mean wind and its sea lie in the lesson's bands, both bounds included; where a value the lesson
/// asks for is not known, or the hour's own call is no-go or none, it does not. A lesson for light air asks for too little wind to
/// sail much besides: a session called light, or an hour below the level's `light_below_kn`.
pub fn lessons<'a>(
    outing: &Outing<'a>,
    hours: &[VerdictHour],
    call: Call,
    light: bool,
) -> Vec<LessonFit<'a>> {
    if matches!(call, Call::NoGo | Call::NoCall) {
        return Vec::new();
    }
    let fit = |lesson: &'a Lesson| {
        let spans = stretches(hours.iter().filter(|hour| hour.out), |hour| {
            suits(lesson, hour) && (!lesson.light_air || light || is_light(outing, hour))
        });
        (!spans.is_empty()).then_some(LessonFit { lesson, spans })
    };
    outing.level.syllabus.iter().filter_map(fit).collect()
}

fn suits(lesson: &Lesson, hour: &VerdictHour) -> bool {
    let wind = lesson
        .wind
        .is_none_or(|(low, high)| hour.wind.is_some_and(|wind| (low..=high).contains(&wind.speed)));
    let wave = lesson
        .wave
        .is_none_or(|(low, high)| hour.wave_height.is_some_and(|wave| (low..=high).contains(&wave)));
    wind && wave && !matches!(hour.call, Call::NoGo | Call::NoCall)
}

fn is_light(outing: &Outing<'_>, hour: &VerdictHour) -> bool {
    hour.wind
        .is_some_and(|wind| wind.speed < outing.level.light_below)
}

/// First and last instant of each unbroken run of hours at which something holds.
fn stretches<'h>(
    hours: impl Iterator<Item = &'h VerdictHour>,
    holds: impl Fn(&VerdictHour) -> bool,
) -> Vec<(DateTime<Utc>, DateTime<Utc>)> {
    let mut spans: Vec<(DateTime<Utc>, DateTime<Utc>)> = Vec::new();
    let mut held = false;
    for hour in hours {
        let holds = holds(hour);
        match spans.last_mut() {
            Some(span) if holds && held => span.1 = hour.at,
            _ if holds => spans.push((hour.at, hour.at)),
            _ => {}
        }
        held = holds;
    }
    spans
}
