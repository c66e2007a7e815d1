//! How often one client may ask. A client that asks too often is told when to come back.
//!
//! Owns: the counting, in bounded memory. Must not know: whose address it counts, which route is asked.

use governor::clock::{Clock, DefaultClock};
use governor::middleware::NoOpMiddleware;
use governor::state::keyed::DefaultKeyedStateStore;
use governor::{Quota, RateLimiter};
use std::hash::{DefaultHasher, Hash, Hasher};
use std::net::{IpAddr, Ipv6Addr};
use std::num::NonZeroU32;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};
use std::time::Duration;

/// Clients counted one by one, at most: past it they share accounts until old ones are forgotten.
const CLIENTS_AT_MOST: usize = 50_000;
/// After so many questions those are forgotten who have their whole allowance again, and the room is looked at.
const LOOK_EVERY: u32 = 1_000;
/// Accounts shared when there is no room for one each: by so many the harm of a flood is divided.
const SHARED: u64 = 4096;

/// What each client has left.
pub(crate) struct Limits<C: Clock = DefaultClock> {
    limiter: RateLimiter<IpAddr, DefaultKeyedStateStore<IpAddr>, C, NoOpMiddleware<C::Instant>>,
    clock: C,
    asked: AtomicU32,
    full: AtomicBool,
    look_every: u32,
    room: usize,
}

impl Limits {
    /// So many a minute, as many of them at once.
    pub(crate) fn a_minute(requests: NonZeroU32) -> Self {
        Self::with_clock(
            Quota::per_minute(requests),
            DefaultClock::default(),
            (CLIENTS_AT_MOST, LOOK_EVERY),
        )
    }

    /// So many an hour, as many of them at once.
    pub(crate) fn an_hour(requests: NonZeroU32) -> Self {
        Self::with_clock(
            Quota::per_hour(requests),
            DefaultClock::default(),
            (CLIENTS_AT_MOST, LOOK_EVERY),
        )
    }
}

impl<C: Clock + Clone> Limits<C> {
    fn with_clock(quota: Quota, clock: C, (room, look_every): (usize, u32)) -> Self {
        Self {
            limiter: RateLimiter::new(quota, DefaultKeyedStateStore::default(), clock.clone()),
            clock,
            asked: AtomicU32::new(0),
            full: AtomicBool::new(false),
            look_every,
            room,
        }
    }

    /// Takes one request from a client's account.
    ///
    /// # Errors
    /// When it may come again, in whole seconds, at least one.
    pub(crate) fn take(&self, client: IpAddr) -> Result<(), Duration> {
        // It wraps around after years, to no harm.
        if self.asked.fetch_add(1, Ordering::Relaxed) % self.look_every == self.look_every - 1 {
            if self.limiter.len() >= self.room {
                self.limiter.retain_recent();
            }
            self.full
                .store(self.limiter.len() >= self.room, Ordering::Relaxed);
        }
        let account = match self.full.load(Ordering::Relaxed) {
            false => client,
            true => shared_account(client),
        };
        self.limiter.check_key(&account).map_err(|refused| {
            let wait = refused.wait_time_from(self.clock.now());
            Duration::from_secs(wait.as_secs_f64().ceil().max(1.0) as u64)
        })
    }
}

/// The account that a client shares with others: an address that nobody has (RFC 6666, discard-only).
fn shared_account(client: IpAddr) -> IpAddr {
    let mut hasher = DefaultHasher::new();
    client.hash(&mut hasher);
    let segment = (hasher.finish() % SHARED) as u16;
    Ipv6Addr::new(0x100, 0, 0, 0, 0, 0, 0, segment).into()
}

#[cfg(test)]
mod tests {
    use super::*;
    use governor::clock::FakeRelativeClock;
    use std::net::Ipv4Addr;

    fn client(last: u8) -> IpAddr {
        // RFC 5737: addresses for documentation.
        Ipv4Addr::new(192, 0, 2, last).into()
    }

    fn limits(a_minute: u32, room: usize) -> (Limits<FakeRelativeClock>, FakeRelativeClock) {
        let clock = FakeRelativeClock::default();
        (
            Limits::with_clock(
                Quota::per_minute(NonZeroU32::new(a_minute).unwrap()),
                clock.clone(),
                (room, 1),
            ),
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
    fn a_flood_of_addresses_shares_a_bounded_number_of_accounts() {
        let (limits, clock) = limits(3, 10);
        for last in 0..10_000_u32 {
            let _taken = limits.take(Ipv4Addr::from_bits(0xC633_6400 + last).into());
        }
        assert!(limits.limiter.len() <= 11 + SHARED as usize);
        // Once the flood is over, everyone has an account again.
        clock.advance(Duration::from_secs(120));
        let _looked = limits.take(client(1));
        for _ in 0..3 {
            assert_eq!(limits.take(client(2)), Ok(()));
            assert_eq!(limits.take(client(3)), Ok(()));
        }
        assert!(limits.take(client(2)).is_err());
    }
}
