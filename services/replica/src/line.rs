//! One line that all bodies share.
//!
//! Owns: when octets that were written have passed the line. Must not know: bodies, sockets.

use std::sync::{Mutex, PoisonError};
use std::time::Duration;
use tokio::time::Instant;

/// How far behind the line may be and still make up for it: a timer that wakes late costs no time of the line.
const MADE_UP_FOR: Duration = Duration::from_millis(20);

/// A line of so many octets a second.
pub(crate) struct Line {
    rate: u64,
    free_at: Mutex<Instant>,
}

impl Line {
    pub fn new(rate: u64) -> Self {
        Self {
            rate: rate.max(1),
            free_at: Mutex::new(Instant::now()),
        }
    }

    /// When these octets have passed, after all that were given to the line before them.
    pub fn passed(&self, octets: u64, now: Instant) -> Instant {
        let takes = Duration::from_secs_f64(octets as f64 / self.rate as f64);
        let earliest = now.checked_sub(MADE_UP_FOR).unwrap_or(now);
        let mut free_at = self.free_at.lock().unwrap_or_else(PoisonError::into_inner);
        *free_at = (*free_at).max(earliest) + takes;
        *free_at
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // No source: arithmetic of the rate.
    #[test]
    fn what_shares_the_line_passes_one_after_the_other() {
        let line = Line::new(1000);
        let began = Instant::now();
        let at = |milliseconds| began + Duration::from_millis(milliseconds);
        // A second of silence gives no more than what is made up for.
        assert_eq!(line.passed(100, at(1000)), at(1080));
        assert_eq!(line.passed(50, at(1000)), at(1130));
        assert_eq!(line.passed(1000, at(2000)), at(2980));
    }
}
