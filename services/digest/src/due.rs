//! When a club's daily mail is due: once each day of its own calendar, over clock changes too. Pure.

use chrono::{DateTime, Days, NaiveDate, Utc};
use club::Club;

/// The day whose mail was due last, and when it was; none for a club that sends no mail.
///
/// A day whose hour the clock skips has its mail an hour later, and one that has the hour twice the first time.
pub fn digest_due(club: &Club, now: DateTime<Utc>) -> Option<(NaiveDate, DateTime<Utc>)> {
    let today = now.with_timezone(&club.time_zone).date_naive();
    [Some(today), today.pred_opt()]
        .into_iter()
        .flatten()
        .filter_map(|day| Some((day, at(club, day)?)))
        .find(|(_, due)| *due <= now)
}

/// When the one after it is due.
pub fn next_digest(club: &Club, now: DateTime<Utc>) -> Option<DateTime<Utc>> {
    let today = now.with_timezone(&club.time_zone).date_naive();
    (0..3)
        .filter_map(|days| at(club, today.checked_add_days(Days::new(days))?))
        .find(|due| *due > now)
}

fn at(club: &Club, day: NaiveDate) -> Option<DateTime<Utc>> {
    let hour = club.digest_at?;
    Some(advisory::validity::at_wall_time(club.time_zone, day, hour))
}

#[cfg(test)]
mod tests {
    use super::*;
    use chrono::TimeDelta;

    fn club(zone: &str, at: &str) -> Club {
        let text = format!(
            "[club]\nname = \"A\"\nslug = \"a\"\ntime_zone = \"{zone}\"\ndigest_at = \"{at}\"\n\
             [[venues]]\nid = \"v\"\nname = \"V\"\npoints = [{{ lat = 43.5, lon = -15.5 }}]\n\
             [[boats]]\nid = \"b\"\nname = \"B\"\n\
             reef_table = [{{ mean_up_to_kn = 20, gust_up_to_kn = 26, reefs = 0, headsail = 1.0 }}]\n\
             [[levels]]\nid = \"l\"\nname = \"L\"\n[levels.limits]\nmean_kn = {{ caution_at = 15, stop_at = 19 }}\n"
        );
        club::parse(&text).unwrap().club
    }

    // Source: the IANA time zone database (by chrono-tz). Europe/Dublin goes from 01:00 to 02:00 on 31 March 2030 and from 02:00 back to
    // 01:00 on 27 October 2030; Lord Howe by half an hour, Antarctica/Troll by two hours; Apia had no 30 December 2011.
    #[test]
    fn every_day_of_the_calendar_has_its_mail_once_whatever_the_clocks_do() {
        for (zone, from, days) in [
            ("Europe/Dublin", "2030-03-25T00:00:00Z", 12),
            ("Europe/Dublin", "2030-10-20T00:00:00Z", 12),
            ("Australia/Lord_Howe", "2030-03-30T00:00:00Z", 14),
            ("Australia/Lord_Howe", "2030-09-30T00:00:00Z", 14),
            ("Antarctica/Troll", "2030-03-25T00:00:00Z", 12),
            ("Antarctica/Troll", "2030-10-20T00:00:00Z", 12),
            ("Atlantic/Madeira", "2030-05-13T00:00:00Z", 5),
        ] {
            for hour in [
                "00:00", "00:30", "01:00", "01:30", "02:00", "02:15", "03:00", "06:30", "23:59",
            ] {
                let club = club(zone, hour);
                let start: DateTime<Utc> = from.parse().unwrap();
                let mut seen: Vec<(NaiveDate, DateTime<Utc>)> = Vec::new();
                for minute in 0..days * 24 * 60 {
                    let due = digest_due(&club, start + TimeDelta::minutes(minute)).unwrap();
                    if seen.last() != Some(&due) {
                        seen.push(due);
                    }
                }
                assert!(seen.len() >= days as usize, "{zone} {hour}: {}", seen.len());
                for pair in seen.windows(2) {
                    assert_eq!(
                        pair[0].0.succ_opt(),
                        Some(pair[1].0),
                        "{zone} {hour}: a day skipped or twice"
                    );
                    assert!(pair[0].1 < pair[1].1);
                    assert_eq!(next_digest(&club, pair[0].1), Some(pair[1].1), "{zone} {hour}");
                }
            }
        }
    }

    // Source: the same database: at 01:30 on these days Dublin's clocks do not stand, and stand twice.
    #[test]
    fn an_hour_that_is_skipped_comes_an_hour_later_and_one_that_comes_twice_counts_first() {
        let club = club("Europe/Dublin", "01:30");
        let due = |now: &str| digest_due(&club, now.parse().unwrap()).unwrap().1.to_rfc3339();
        assert_eq!(due("2030-03-31T12:00:00Z"), "2030-03-31T01:30:00+00:00");
        assert_eq!(due("2030-10-27T12:00:00Z"), "2030-10-27T00:30:00+00:00");
    }

    #[test]
    fn a_club_without_the_hour_has_none() {
        let mut club = club("Europe/Dublin", "06:30");
        club.digest_at = None;
        let now = "2030-05-13T12:00:00Z".parse().unwrap();
        assert_eq!((digest_due(&club, now), next_digest(&club, now)), (None, None));
    }
}
