//! How often one client may ask. A client that asks too often is told when to come back.
//!
//! Owns: the counting, in bounded memory. Must not know: whose address it counts, which route is asked.

use governor::clock::{Clock, DefaultClock};
use governor::middleware::NoOpMiddleware;
use governor::state::keyed::DefaultKeyedStateStore;
use governor::{Quota, RateLimiter};
use std::net::{IpAddr, Ipv4Addr};
use std::num::NonZeroU32;
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::Duration;

/// Clients counted one by one, at most: past it new ones share one account until old ones are forgotten.
const CLIENTS_AT_MOST: usize = 50_000;
/// After so many questions those are forgotten who have their whole allowance again.
const FORGET_EVERY: u32 = 10_000;
/// The account of those who come when there is no room for another.
const SHARED: IpAddr = IpAddr::V4(Ipv4Addr::UNSPECIFIED);

/// What each client has left.
pub(crate) struct Limits<C: Clock = DefaultClock> {
    limiter: RateLimiter<IpAddr, DefaultKeyedStateStore<IpAddr>, C, NoOpMiddleware<C::Instant>>,
    clock: C,
    asked: AtomicU32,
    room: usize,
}

impl Limits {
    /// So many a minute, as many of them at once.
    pub(crate) fn a_minute(requests: NonZeroU32) -> Self {
        Self::with_clock(requests, DefaultClock::default(), CLIENTS_AT_MOST)
    }
}

impl<C: Clock + Clone> Limits<C> {
    fn with_clock(requests: NonZeroU32, clock: C, room: usize) -> Self {
        Self {
            limiter: RateLimiter::new(
                Quota::per_minute(requests),
                DefaultKeyedStateStore::default(),
                clock.clone(),
            ),
            clock,
            asked: AtomicU32::new(0),
            room,
        }
    }

    /// Takes one request from a client's account.
    ///
    /// # Errors
    /// When it may come again, in whole seconds, at least one.
    pub(crate) fn take(&self, client: IpAddr) -> Result<(), Duration> {
        // It wraps around after years, to no harm.
        if self.asked.fetch_add(1, Ordering::Relaxed) % FORGET_EVERY == FORGET_EVERY - 1 {
            self.limiter.retain_recent();
        }
        let account = if self.limiter.len() < self.room {
            client
        } else {
            SHARED
        };
        self.limiter.check_key(&account).map_err(|refused| {
            let wait = refused.wait_time_from(self.clock.now());
            Duration::from_secs(wait.as_secs_f64().ceil().max(1.0) as u64)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use governor::clock::FakeRelativeClock;

    fn client(last: u8) -> IpAddr {
        // RFC 5737: addresses for documentation.
        Ipv4Addr::new(192, 0, 2, last).into()
    }

    fn limits(a_minute: u32, room: usize) -> (Limits<FakeRelativeClock>, FakeRelativeClock) {
        let clock = FakeRelativeClock::default();
        (
            Limits::with_clock(NonZeroU32::new(a_minute).unwrap(), clock.clone(), room),
            clock,
        )
    }

    // By definition: 60 a minute is one a second, so that after a burst the next is due within a second.
    #[test]
    fn a_client_that_has_used_its_minute_waits_and_the_others_do_not() {
        let (limits, clock) = limits(60, 1000);
        for _ in 0..60 {
            assert_eq!(limits.take(client(1)), Ok(()));
        }
        assert_eq!(limits.take(client(1)), Err(Duration::from_secs(1)));
        assert_eq!(limits.take(client(2)), Ok(()));
        clock.advance(Duration::from_secs(1));
        assert_eq!(limits.take(client(1)), Ok(()));
        assert_eq!(limits.take(client(1)), Err(Duration::from_secs(1)));
    }

    #[test]
    fn the_wait_is_never_nothing_and_never_too_short() {
        let (limits, clock) = limits(7, 1000);
        for _ in 0..7 {
            assert_eq!(limits.take(client(1)), Ok(()));
        }
        // 60 s / 7 = 8.57 s: rounded up.
        assert_eq!(limits.take(client(1)), Err(Duration::from_secs(9)));
        clock.advance(Duration::from_secs(9));
        assert_eq!(limits.take(client(1)), Ok(()));
    }

    #[test]
    fn a_flood_of_addresses_shares_one_account() {
        let (limits, _) = limits(3, 10);
        for last in 0..10 {
            assert_eq!(limits.take(client(last)), Ok(()));
        }
        let admitted = (10..200)
            .filter(|last| limits.take(client(*last)).is_ok())
            .count();
        assert_eq!(admitted, 3, "the shared account's allowance");
        assert!(limits.limiter.len() <= 11);
    }
}
