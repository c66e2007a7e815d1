//! When a file appears.

use crate::Stamp;
use chrono::{DateTime, TimeDelta, Utc};

/// When files appear. A file whose path tells no run is there from the start.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Publication {
    /// Everything is there, and is as old as its run.
    Everything,
    /// A run grows step by step.
    StepByStep {
        /// From the run's reference time to its first file.
        first_delay: TimeDelta,
        /// For each hour of step beyond that.
        per_step: TimeDelta,
    },
}

impl Publication {
    /// When the file of this stamp appears; at the same time its date of last modification.
    pub fn time_of(&self, stamp: Stamp) -> DateTime<Utc> {
        match *self {
            Self::Everything => stamp.run,
            Self::StepByStep {
                first_delay,
                per_step,
            } => {
                let steps = i32::try_from(stamp.step_hours).unwrap_or(i32::MAX);
                let delay = per_step
                    .checked_mul(steps)
                    .and_then(|delay| delay.checked_add(&first_delay));
                delay
                    .and_then(|delay| stamp.run.checked_add_signed(delay))
                    .unwrap_or(DateTime::<Utc>::MAX_UTC)
            }
        }
    }

    /// Whether the file of this stamp is there.
    pub fn has_appeared(&self, stamp: Stamp, now: DateTime<Utc>) -> bool {
        *self == Self::Everything || self.time_of(stamp) <= now
    }
}
