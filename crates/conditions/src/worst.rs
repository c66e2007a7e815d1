//! The worst of several points of a venue, and what is known of it while one of them is missing.
//!
//! Owns: that choice. Must not know: elements, corrections, limits.

use crate::hour::Missing;
use crate::prepared::PreparedRun;
use forecast::Gap;

/// A value at the point of the venue where it is worst.
#[derive(Clone, Debug)]
pub(crate) struct AtPoint<T> {
    pub(crate) point: usize,
    pub(crate) value: T,
}

/// Why the value of one point cannot be told, and what it is at least, where that is known.
#[derive(Debug)]
pub(crate) struct Short<T> {
    pub(crate) gap: Gap,
    pub(crate) at_least: Option<Box<T>>,
}

impl<T> Short<T> {
    /// The value is known but for what this gap hides, which can only make it worse.
    pub(crate) fn at_least(value: T, gap: Gap) -> Self {
        Self {
            gap,
            at_least: Some(Box::new(value)),
        }
    }
}

impl<T> From<Gap> for Short<T> {
    fn from(gap: Gap) -> Self {
        Self { gap, at_least: None }
    }
}

/// The worst so far.
#[derive(Debug)]
pub(crate) struct Worst<T> {
    known: Option<AtPoint<T>>,
    gap: Option<Gap>,
}

impl<T> Worst<T> {
    /// Of no points yet.
    pub(crate) fn new() -> Self {
        Self {
            known: None,
            gap: None,
        }
    }

    /// One more point. Of two that are as bad the first stays.
    pub(crate) fn take(
        &mut self,
        point: usize,
        value: Result<T, impl Into<Short<T>>>,
        badness: impl Fn(&T) -> f64,
    ) {
        let value = match value {
            Ok(value) => Some(value),
            Err(short) => {
                let short = short.into();
                self.gap.get_or_insert(short.gap);
                short.at_least.map(|value| *value)
            }
        };
        let Some(value) = value else { return };
        let is_worse = |known: &AtPoint<T>| badness(&value) > badness(&known.value);
        if self.known.as_ref().is_none_or(is_worse) {
            self.known = Some(AtPoint { point, value });
        }
    }

    /// While one point is missing the worst cannot be told, and the value is missing; the worst of the others is told
    /// beside it.
    pub(crate) fn found(self) -> Result<AtPoint<T>, Hidden<T>> {
        match (self.known, self.gap) {
            (Some(known), None) => Ok(known),
            (known, gap) => Err(Hidden {
                gap: gap.unwrap_or(Gap::OutsideGrid),
                known: known.map(Box::new),
            }),
        }
    }
}

/// The worst of several points at once.
pub(crate) fn worst<T>(
    points: usize,
    value_at: impl Fn(usize) -> Result<T, Gap>,
    badness: impl Fn(&T) -> f64,
) -> Result<AtPoint<T>, Hidden<T>> {
    let mut worst = Worst::new();
    for point in 0..points {
        worst.take(point, value_at(point), &badness);
    }
    worst.found()
}

/// Why the worst of several points cannot be told, and the worst of those that are known.
#[derive(Debug)]
pub(crate) struct Hidden<T> {
    gap: Gap,
    known: Option<Box<AtPoint<T>>>,
}

impl<T> From<Gap> for Hidden<T> {
    fn from(gap: Gap) -> Self {
        Self { gap, known: None }
    }
}

impl<T> Hidden<T> {
    /// As the reader of the value is told it.
    pub(crate) fn missing(self, run: &PreparedRun, number: impl Fn(&T) -> f64) -> Missing {
        Missing {
            elsewhere: self.known.map(|at| number(&at.value)),
            ..missing(run, self.gap)
        }
    }
}

/// What is missing of a run. High waters are the club's own: no run has them.
pub(crate) fn missing(run: &PreparedRun, gap: Gap) -> Missing {
    let of_the_run = gap != Gap::NoHighWater;
    Missing {
        gap,
        source: of_the_run.then(|| run.source.clone()),
        reference: of_the_run.then_some(run.reference),
        elsewhere: None,
    }
}
