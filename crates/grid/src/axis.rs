//! One axis of a grid: nodes at even steps along a line or round a circle, and where a place lies among them.
//!
//! Must not know: what is measured along it (degrees, metres, rows of a table).

use seaway::quantity::normalise_degrees;
use serde::{Deserialize, Serialize};

/// A place on one axis of the grid: the node before it and the share of the way to the next one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct AxisPosition {
    pub index: u32,
    pub fraction: f64,
}

/// Nodes at even steps.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct Axis {
    /// Where the first node lies.
    pub first: f64,
    /// From one node to the next; negative where they run the other way. Never 0.
    pub step: f64,
    /// A place nearer than this to a node is on it.
    pub slack: f64,
    /// How many nodes there are; at least one.
    pub count: u32,
    /// Whether the node after the last one is the first one again.
    pub wraps: bool,
}

impl Axis {
    /// Where a node lies.
    pub fn at(&self, index: u32) -> f64 {
        self.first + f64::from(index) * self.step
    }

    /// Position of a value on a line; none before the first and after the last node.
    pub fn along(&self, value: f64) -> Option<AxisPosition> {
        self.position((value - self.first) * self.step.signum())
    }

    /// Position of a longitude, in degrees, on a circle or a part of it; none outside.
    pub fn around(&self, longitude: f64) -> Option<AxisPosition> {
        let mut along = normalise_degrees((longitude - self.first) * self.step.signum());
        if along > 360.0 - self.slack {
            along -= 360.0;
        }
        self.position(along)
    }

    fn position(&self, distance: f64) -> Option<AxisPosition> {
        let (step, count) = (self.step.abs(), f64::from(self.count));
        let steps = distance / step;
        // Neither what is no number nor what whole numbers do not hold.
        if !(-1.0..=count + 1.0).contains(&steps) {
            return None;
        }
        let (floor, fraction) = whole_and_fraction(steps);
        let nearest = if fraction < 0.5 { floor } else { floor + 1.0 };
        let on_node = (distance - nearest * step).abs() <= self.slack;
        let (index, fraction) = if on_node {
            (nearest, 0.0)
        } else {
            (floor, fraction)
        };
        if self.wraps && index >= count {
            return Some(AxisPosition {
                index: 0,
                fraction: 0.0,
            })
            .filter(|_| on_node);
        }
        let inside =
            index >= 0.0 && (index < count - 1.0 || (index == count - 1.0 && (on_node || self.wraps)));
        inside.then_some(AxisPosition {
            index: index as u32,
            fraction,
        })
    }
}

/// The whole number at or before one that is small, and what is left of it; `floor` is a call where the processor is not asked what it can do.
fn whole_and_fraction(steps: f64) -> (f64, f64) {
    let towards_zero = (steps as i64) as f64;
    let whole = if towards_zero > steps {
        towards_zero - 1.0
    } else {
        towards_zero
    };
    (whole, steps - whole)
}
