//! When to advise next: a pure function of the moment, of what stands and of what is due.
//!
//! Owns: that choice, and how long to wait after a fault. Must not know: the clock, the store, what is advised.

use advisory::validity::decides_by;
use chrono::{DateTime, TimeDelta, Utc};
use club::{Club, Occurrence};

/// How often the advisor looks, at least.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Rhythm {
    /// From one look at the store for parts that another process has written to the next.
    pub look: TimeDelta,
    /// From one advising to the next if nothing else is due: sessions come within reach as time passes.
    pub beat: TimeDelta,
}

/// What the last advising leaves to be waited for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Due {
    /// When it was; the start, if it is still to be.
    pub advised_at: DateTime<Utc>,
    /// Faults in a row since all went well.
    pub faults: u32,
    /// The hours at which the clubs decide on coming sessions.
    pub decision_hours: Vec<DateTime<Utc>>,
    /// Until when the advisories that stand may be shown as current.
    pub valid_until: Vec<DateTime<Utc>>,
}

impl Due {
    /// Nothing has been advised on yet.
    pub fn from_start(now: DateTime<Utc>) -> Self {
        Self {
            advised_at: now,
            faults: 0,
            decision_hours: Vec::new(),
            valid_until: Vec::new(),
        }
    }
}

/// Why the advisor wakes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Why {
    /// A club decides.
    DecisionHour,
    /// An advisory may no longer be shown as current since a second ago.
    NoLongerValid,
    /// Nothing was due for a beat, or something has failed.
    Beat,
    /// To look whether another process has written parts, and to go on waiting if not.
    Look,
}

/// When to wake, and why.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Wake {
    /// The moment, not before now.
    pub at: DateTime<Utc>,
    /// The reason; of several at one moment the first in the order of [`Why`].
    pub why: Why,
}

/// The next moment to wake at. What fell due while the last advising was at work is due now.
pub fn next_wake(now: DateTime<Utc>, due: &Due, rhythm: Rhythm) -> Wake {
    let of = |why: Why| move |at: DateTime<Utc>| Wake { at, why };
    let is_coming = |at: &&DateTime<Utc>| **at > due.advised_at;
    let decided = due.decision_hours.iter().filter(is_coming).copied();
    // A run serves for the last time at the moment itself: what follows is known a second later.
    let ended = due
        .valid_until
        .iter()
        .filter(is_coming)
        .map(|until| *until + TimeDelta::seconds(1));
    let coming = decided
        .map(of(Why::DecisionHour))
        .chain(ended.map(of(Why::NoLongerValid)));
    let beat = due.advised_at + pause(due.faults, rhythm.beat, rhythm);
    let look = now + pause(due.faults, rhythm.look, rhythm);
    let again = [(beat, Why::Beat), (look, Why::Look)].map(|(at, why)| Wake { at, why });
    let mut next = again[1];
    for wake in again.into_iter().chain(coming) {
        if (wake.at, wake.why as u8) < (next.at, next.why as u8) {
            next = wake;
        }
    }
    Wake {
        at: next.at.max(now),
        ..next
    }
}

/// After faults twice the time of a look, then twice as long again each time, and never longer than a beat.
fn pause(faults: u32, without: TimeDelta, rhythm: Rhythm) -> TimeDelta {
    if faults == 0 {
        return without;
    }
    let doubled = 1_i32.checked_shl(faults.min(20)).unwrap_or(i32::MAX);
    (rhythm.look * doubled).min(rhythm.beat)
}

/// The hours at which a club decides on these sessions.
pub fn decision_hours(club: &Club, occurrences: &[Occurrence]) -> Vec<DateTime<Utc>> {
    let mut hours: Vec<DateTime<Utc>> = occurrences
        .iter()
        .map(|session| decides_by(club, session.leaves))
        .collect();
    hours.sort();
    hours.dedup();
    hours
}
