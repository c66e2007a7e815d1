//! When a request is sent again: how long to wait, how often, and when to leave a source alone.
//!
//! Must not know: what is asked for.

use backon::{BackoffBuilder, ExponentialBackoff, ExponentialBuilder};
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::{Duration, SystemTime};

/// How faults that may pass are met.
#[derive(Clone, Copy, Debug)]
pub struct RetryLimits {
    /// How often one request is sent again.
    pub times: usize,
    /// How often requests to one source are sent again within one pull.
    pub budget: u32,
    /// The wait before the second try; it doubles with each further one, and up to as much again is added by chance.
    pub first_wait: Duration,
    /// The longest wait. A server that asks for a longer one is left alone until the next pull.
    pub longest_wait: Duration,
    /// Seed of the chance; none for a new one each time.
    pub seed: Option<u64>,
}

impl Default for RetryLimits {
    fn default() -> Self {
        Self {
            times: 4,
            budget: 40,
            first_wait: Duration::from_secs(1),
            longest_wait: Duration::from_secs(60),
            seed: None,
        }
    }
}

impl RetryLimits {
    /// The waits between the tries of one request.
    pub fn waits(&self) -> ExponentialBackoff {
        let builder = ExponentialBuilder::default()
            .with_min_delay(self.first_wait)
            .with_max_delay(self.longest_wait)
            .with_max_times(self.times)
            .with_jitter();
        match self.seed {
            Some(seed) => builder.with_jitter_seed(seed).build(),
            None => builder.build(),
        }
    }
}

/// The further tries that one source still has in this pull, and one more; zero once it is left alone.
#[derive(Debug)]
pub struct Budget(AtomicU32);

impl Budget {
    pub fn new(tries: u32) -> Self {
        Self(AtomicU32::new(tries.saturating_add(1)))
    }

    /// Takes one further try; if there is none, false, and the source is left alone from then on.
    pub fn take(&self) -> bool {
        let one_less = |left: u32| (left > 1).then(|| left - 1);
        let taken = self
            .0
            .fetch_update(Ordering::Relaxed, Ordering::Relaxed, one_less)
            .is_ok();
        if !taken {
            self.spend();
        }
        taken
    }

    /// Leaves the source alone: no try is left.
    pub fn spend(&self) {
        self.0.store(0, Ordering::Relaxed);
    }

    pub fn is_spent(&self) -> bool {
        self.0.load(Ordering::Relaxed) == 0
    }
}

/// The wait that `Retry-After` asks for: seconds, or a date, which is read against the server's own `Date` so that a
/// wrong clock on either side does no harm (RFC 9110, sections 10.2.3 and 6.6.1).
pub fn retry_after(asked: &str, server_date: Option<&str>) -> Option<Duration> {
    if let Ok(seconds) = asked.trim().parse() {
        return Some(Duration::from_secs(seconds));
    }
    let until = httpdate::parse_http_date(asked).ok()?;
    let now = server_date.and_then(|date| httpdate::parse_http_date(date).ok());
    Some(
        until
            .duration_since(now.unwrap_or_else(SystemTime::now))
            .unwrap_or_default(),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    // Source: RFC 9110, section 10.2.3: a number of seconds or an HTTP-date.
    #[test]
    fn both_forms_of_retry_after_are_read() {
        assert_eq!(retry_after("120", None), Some(Duration::from_secs(120)));
        let date = Some("Sun, 06 Nov 1994 08:49:37 GMT");
        assert_eq!(
            retry_after("Sun, 06 Nov 1994 08:50:07 GMT", date),
            Some(Duration::from_secs(30))
        );
        assert_eq!(
            retry_after("Sun, 06 Nov 1994 08:00:00 GMT", date),
            Some(Duration::ZERO)
        );
        assert_eq!(retry_after("soon", date), None);
    }

    // No source: common practice.
    #[test]
    fn waits_grow_with_chance_up_to_their_bounds() {
        let limits = RetryLimits {
            seed: Some(7),
            ..RetryLimits::default()
        };
        let waits: Vec<Duration> = limits.waits().collect();
        assert_eq!(waits.len(), 4);
        for (wait, least) in waits.iter().zip([1, 2, 4, 8]) {
            let least = Duration::from_secs(least);
            assert!((least..=2 * least).contains(wait), "{waits:?}");
        }
        assert_eq!(waits, limits.waits().collect::<Vec<_>>());
    }

    #[test]
    fn a_budget_ends() {
        let budget = Budget::new(2);
        assert!(budget.take() && budget.take() && !budget.is_spent());
        assert!(!budget.take() && budget.is_spent());
        assert!(!Budget::new(0).is_spent(), "the first try is free");
        let budget = Budget::new(2);
        budget.spend();
        assert!(!budget.take());
    }
}
