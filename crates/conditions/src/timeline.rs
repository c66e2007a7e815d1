//! From steps to an instant.
//!
//! Owns: interpolation in time, holes between steps, values of intervals. Must not know: nodes, sources, limits.

use crate::element::{Components, Element, InTime};
use crate::space::{Blend, mean};
use chrono::{DateTime, Utc};
use forecast::Gap;
use seaway::NauticalMiles;

/// An element at a place and step, without the nodes it came from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Placed {
    pub(crate) value: Components,
    pub(crate) offshore: Option<NauticalMiles>,
    pub(crate) no_land_mask: bool,
}

impl From<Blend> for Placed {
    fn from(blend: Blend) -> Self {
        Self {
            value: blend.value,
            offshore: blend.offshore,
            no_land_mask: blend.no_land_mask,
        }
    }
}

/// A placed value, or why there is none.
pub(crate) type Place = Result<Placed, Gap>;

/// Where an instant lies among the steps.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Moment {
    /// On a step.
    On(usize),
    /// Between a step and the next; the weight is that of the next, 0 to 1.
    Between(usize, f64),
}

impl Moment {
    /// The steps that count, with their weights.
    pub(crate) fn steps(self) -> impl Iterator<Item = (usize, f64)> {
        let (first, second) = match self {
            Self::On(step) => ((step, 1.0), None),
            Self::Between(step, weight) => ((step, 1.0 - weight), Some((step + 1, weight))),
        };
        std::iter::once(first).chain(second)
    }
}

/// The valid times of a run's steps, and between which of them nothing may be interpolated.
#[derive(Clone, Debug)]
pub(crate) struct Timeline {
    times: Vec<DateTime<Utc>>,
    /// Whether the step and the next are neighbours in the run.
    joined: Vec<bool>,
}

impl Timeline {
    /// From the steps' valid times, ascending.
    ///
    /// The strides between a run's steps never get shorter with lead time. So a stride that is longer than some later one
    /// has lost a step, and the hours inside it are missing: a hole is never bridged.
    pub(crate) fn new(times: Vec<DateTime<Utc>>) -> Self {
        let strides: Vec<_> = times.windows(2).map(|pair| pair[1] - pair[0]).collect();
        let mut joined = vec![true; strides.len()];
        let mut shortest_later = None;
        for (index, &stride) in strides.iter().enumerate().rev() {
            joined[index] = shortest_later.is_none_or(|shortest| stride <= shortest);
            shortest_later =
                Some(shortest_later.map_or(stride, |shortest: chrono::TimeDelta| shortest.min(stride)));
        }
        Self { times, joined }
    }

    pub(crate) fn times(&self) -> &[DateTime<Utc>] {
        &self.times
    }

    /// Where an instant lies. Nothing is extrapolated before the first step or past the last.
    pub(crate) fn find(&self, time: DateTime<Utc>) -> Result<Moment, Gap> {
        match self.times.binary_search(&time) {
            Ok(step) => Ok(Moment::On(step)),
            Err(0) => Err(Gap::NotThere),
            Err(next) if next == self.times.len() => Err(Gap::BeyondRun),
            Err(next) if !self.joined[next - 1] => Err(Gap::NotThere),
            Err(next) => {
                let (before, after) = (self.times[next - 1], self.times[next]);
                let share = (time - before).num_seconds() as f64 / (after - before).num_seconds() as f64;
                Ok(Moment::Between(next - 1, share))
            }
        }
    }
}

/// An element at an instant from its values at steps. A missing step makes the hours around it missing.
pub(crate) fn at_moment(element: Element, series: &[Place], moment: Moment) -> Place {
    const NOTHING: Placed = Placed {
        value: [0.0; 2],
        offshore: None,
        no_land_mask: false,
    };
    let (mut parts, mut count) = ([(NOTHING, 0.0); 2], 0);
    for (step, weight) in moment.steps() {
        parts[count] = ((*series.get(step).ok_or(Gap::NotThere)?)?, weight);
        count += 1;
    }
    let placed = &parts[..count];
    let firsts = placed.iter().map(|part| part.0.value[0]);
    let value = match element.in_time() {
        InTime::Linear => {
            let values = parts.map(|(placed, weight)| (placed.value, weight));
            mean(element, &values[..count])
        }
        InTime::Larger => [firsts.fold(f64::NEG_INFINITY, f64::max), 0.0],
        InTime::Smaller => [firsts.fold(f64::INFINITY, f64::min), 0.0],
    };
    let offshore = placed
        .iter()
        .filter_map(|part| part.0.offshore)
        .reduce(NauticalMiles::max);
    Ok(Placed {
        value,
        offshore,
        no_land_mask: placed.iter().any(|part| part.0.no_land_mask),
    })
}

/// A wind at an instant: its components, and the speed in m/s that limits see.
///
/// Between 26 kn from south and 26 kn from west the interpolated vector alone would say 18 kn, as if the wind dropped
/// while it veers. The speed is therefore the larger of the vector's and the linearly interpolated speed.
pub(crate) fn wind_at_moment(series: &[Place], moment: Moment) -> Result<(Placed, f64), Gap> {
    let mut placed = at_moment(Element::Wind, series, moment)?;
    let mut speed = 0.0;
    let mut heaviest = (f64::NEG_INFINITY, placed.value);
    for (step, weight) in moment.steps() {
        let at_step = (*series.get(step).ok_or(Gap::NotThere)?)?;
        speed += weight * at_step.value[0].hypot(at_step.value[1]);
        if weight > heaviest.0 {
            heaviest = (weight, at_step.value);
        }
    }
    let of_vector = placed.value[0].hypot(placed.value[1]);
    if of_vector < 1e-6 {
        // Opposite winds cancel out; the direction is then that of the nearer step.
        placed.value = heaviest.1;
    }
    Ok((placed, speed.max(of_vector)))
}

/// A value that holds for a whole interval, both ends included.
#[derive(Clone, Debug)]
pub(crate) struct Window {
    pub(crate) start: DateTime<Utc>,
    pub(crate) end: DateTime<Utc>,
    pub(crate) value: Place,
    /// The steps whose messages it was made from.
    pub(crate) steps: Vec<usize>,
}

/// The largest value of the windows that an instant lies in; on a boundary both count. If one of them is missing, so is
/// the value: the larger of the two cannot be told.
pub(crate) fn largest_of_windows(windows: &[Window], time: DateTime<Utc>) -> Result<&Window, Gap> {
    let mut largest: Option<(&Window, f64)> = None;
    for window in windows
        .iter()
        .filter(|window| window.start <= time && time <= window.end)
    {
        let value = window.value?.value[0];
        if largest.is_none_or(|largest| value > largest.1) {
            largest = Some((window, value));
        }
    }
    largest.map(|largest| largest.0).ok_or(Gap::NotThere)
}
