//! How long to wait after a fault. Pure.
//!
//! Source: RFC 5321, section 4.5.4.1 (a sender tries again, later and later); its half hours are for mail that may wait for days, and
//! what is told here is of use for hours: hence a minute at first, and an hour at most (no source).

use chrono::TimeDelta;

/// After the first fault of one mail, and the longest.
const FIRST: TimeDelta = TimeDelta::minutes(1);
const LONGEST: TimeDelta = TimeDelta::minutes(60);
/// The same where the server itself was in trouble: nothing goes out meanwhile.
const FIRST_OF_SERVER: TimeDelta = TimeDelta::seconds(30);
const LONGEST_OF_SERVER: TimeDelta = TimeDelta::minutes(10);

/// Before a mail is tried again that was tried so often.
pub(crate) fn before_again(attempts: i64) -> TimeDelta {
    doubled(FIRST, LONGEST, attempts)
}

/// Before anything is sent again, after so many rounds in a row that ended with the server in trouble.
pub fn pause_after(troubles: u32) -> TimeDelta {
    doubled(FIRST_OF_SERVER, LONGEST_OF_SERVER, i64::from(troubles))
}

fn doubled(first: TimeDelta, longest: TimeDelta, times: i64) -> TimeDelta {
    let doublings = (times - 1).clamp(0, 16);
    (first * (1_i32 << doublings)).min(longest)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_waits_twice_as_long_each_time_and_never_longer_than_an_hour() {
        let minutes = |attempts| before_again(attempts).num_minutes();
        let waits: Vec<_> = (0..9).map(minutes).collect();
        assert_eq!(waits, [1, 1, 2, 4, 8, 16, 32, 60, 60]);
        assert_eq!(minutes(i64::MAX), 60);
        let seconds: Vec<_> = (1..8)
            .map(|troubles| pause_after(troubles).num_seconds())
            .collect();
        assert_eq!(seconds, [30, 60, 120, 240, 480, 600, 600]);
    }
}
