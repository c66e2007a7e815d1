//! Values of intervals: gust maxima, and rain rates from accumulations.
//!
//! Owns: which interval a message speaks of, and the rate between two accumulations. Must not know: nodes, limits.

use crate::timeline::{Place, Placed, Window};
use chrono::{DateTime, TimeDelta, Utc};
use forecast::{Gap, Interval, Process};

/// Accumulations that fall by no more than this are packing noise, mm: the step of NOAA's packing is 1/16 mm and two values
/// of four nodes are compared. A larger fall is no accumulation of this interval.
const PACKING_NOISE_MM: f64 = 0.15;
const SECONDS_PER_HOUR: f64 = 3600.0;

/// One step of one member: its valid time, its message's interval, its value at the place.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Step {
    pub(crate) time: DateTime<Utc>,
    pub(crate) interval: Option<Interval>,
    pub(crate) value: Place,
}

/// Gust maxima by interval. A message that is missing makes the hours since the step before missing.
pub(crate) fn of_maxima(steps: &[Step]) -> Vec<Window> {
    let mut windows = Vec::with_capacity(steps.len());
    for (index, step) in steps.iter().enumerate() {
        let span = match step.interval {
            Some(interval) => Some((interval.start, interval.end)),
            None => since_step_before(steps, index),
        };
        // A maximum of no time at all (a producer's step 0) means nothing.
        if let Some((start, end)) = span.filter(|(start, end)| start < end) {
            let value = match step.interval {
                Some(interval) if interval.process == Process::Maximum => step.value,
                Some(_) | None => Err(step.value.err().unwrap_or(Gap::NotInFeed)),
            };
            windows.push(Window {
                start,
                end,
                value,
                steps: vec![index],
            });
        }
    }
    windows
}

/// Rain rates, mm/h, by interval: the difference of two accumulations that started together over the time between their
/// ends, or an accumulation over its own length.
pub(crate) fn of_accumulations(steps: &[Step]) -> Vec<Window> {
    (0..steps.len())
        .filter_map(|index| rain_window(steps, index))
        .filter(|w| w.start < w.end)
        .collect()
}

fn rain_window(steps: &[Step], index: usize) -> Option<Window> {
    let step = steps[index];
    let before = index.checked_sub(1).map(|before| steps[before]);
    let Some(interval) = step.interval else {
        let (start, end) = since_step_before(steps, index)?;
        return Some(Window {
            start,
            end,
            value: Err(step.value.err().unwrap_or(Gap::NotInFeed)),
            steps: vec![index],
        });
    };
    if interval.process != Process::Accumulation {
        return Some(Window {
            start: interval.start,
            end: interval.end,
            value: Err(Gap::NotInFeed),
            steps: vec![index],
        });
    }
    match before {
        // Both started together: what fell between their ends.
        Some(before)
            if before
                .interval
                .is_some_and(|i| i.start == interval.start && i.start < i.end) =>
        {
            let start = before.interval?.end;
            let value = difference(before.value, step.value, interval.end - start);
            Some(Window {
                start,
                end: interval.end,
                value,
                steps: vec![index - 1, index],
            })
        }
        // The accumulation reaches back over a step whose own is missing: its mean would hide the heavier hours.
        Some(before) if interval.start < before.time && before.value.is_err() => {
            let value = Err(before.value.err().unwrap_or(Gap::NotThere));
            Some(Window {
                start: before.time,
                end: interval.end,
                value,
                steps: vec![index - 1, index],
            })
        }
        _ => {
            let value = step
                .value
                .map(|placed| rate(placed, placed.value[0], interval.end - interval.start));
            Some(Window {
                start: interval.start,
                end: interval.end,
                value,
                steps: vec![index],
            })
        }
    }
}

fn difference(before: Place, after: Place, between: TimeDelta) -> Place {
    let (before, after) = (before?, after?);
    let fell = after.value[0] - before.value[0];
    if fell < -PACKING_NOISE_MM {
        return Err(Gap::Damaged);
    }
    Ok(rate(after, fell, between))
}

fn rate(placed: Placed, fell_mm: f64, over: TimeDelta) -> Placed {
    let hours = over.num_seconds() as f64 / SECONDS_PER_HOUR;
    Placed {
        value: [(fell_mm / hours).max(0.0), 0.0],
        ..placed
    }
}

fn since_step_before(steps: &[Step], index: usize) -> Option<(DateTime<Utc>, DateTime<Utc>)> {
    Some((steps[index.checked_sub(1)?].time, steps[index].time))
}
