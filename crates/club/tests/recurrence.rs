//! Recurrence against the worked examples of RFC 5545, section 3.8.5.3 (all of them in America/New_York), and clock
//! changes against section 3.3.5 and the zone database's dates.
#![expect(
    clippy::expect_used,
    clippy::panic,
    reason = "a test's helper that fails is a failed test"
)]

use chrono::{DateTime, NaiveDateTime, Utc};
use club::{Club, instant_of, occurrences, parse};

/// The small club with another zone and another session.
fn club_with(zone: &str, session: &str) -> Club {
    let small = include_str!("../../../fixtures/club/small.toml");
    let (head, _) = small
        .split_once("[[sessions]]")
        .expect("the small club has sessions");
    let text = format!(
        "{}\n[[sessions]]\nid = \"s\"\nvenue = \"roadstead\"\nboat = \"tern\"\nlevel = \"crew\"\n{session}",
        head.replace("Atlantic/Madeira", zone)
    );
    parse(&text).unwrap_or_else(|mistakes| panic!("{mistakes}")).club
}

fn instant(written: &str) -> DateTime<Utc> {
    written.parse().expect("the test writes RFC 3339")
}

/// Leaving times in RFC 3339 with the club's offset, of a session of two hours.
fn leavings(zone: &str, starts: &str, repeat: &str, from: &str, to: &str) -> Vec<String> {
    let session = format!("starts = \"{starts}\"\nlasts_min = 120\nrepeat = \"{repeat}\"\n");
    occurrences(&club_with(zone, &session), instant(from), instant(to))
        .iter()
        .map(|occurrence| occurrence.leaves_local.to_rfc3339())
        .collect()
}

/// Days of 1997 and 1998 at 9 in the morning in New York, with the offset of the day.
fn at_nine(days: &str) -> Vec<String> {
    days.split_whitespace()
        .map(|day| {
            // United States rule of those years: summer time from the first Sunday of April to the last of October.
            let summer =
                ("1997-04-06".."1997-10-26").contains(&day) || ("1998-04-05".."1998-10-25").contains(&day);
            format!("{day}T09:00:00{}", if summer { "-04:00" } else { "-05:00" })
        })
        .collect()
}

#[track_caller]
fn check_rfc(name: &str, repeat: &str, starts: &str, to: &str, days: &str) {
    let found = leavings("America/New_York", starts, repeat, "1997-01-01T00:00:00Z", to);
    assert_eq!(found, at_nine(days), "RFC 5545, 3.8.5.3: {name}");
}

const SEPTEMBER_2: &str = "1997-09-02T09:00";
const END_OF_1998: &str = "1998-12-31T00:00:00Z";

#[test]
fn rfc_5545_daily_and_weekly_examples() {
    check_rfc(
        "Daily for 10 occurrences",
        "FREQ=DAILY;COUNT=10",
        SEPTEMBER_2,
        END_OF_1998,
        "1997-09-02 1997-09-03 1997-09-04 1997-09-05 1997-09-06 1997-09-07 1997-09-08 1997-09-09 1997-09-10 1997-09-11",
    );
    check_rfc(
        "Every 10 days, 5 occurrences",
        "FREQ=DAILY;INTERVAL=10;COUNT=5",
        SEPTEMBER_2,
        END_OF_1998,
        "1997-09-02 1997-09-12 1997-09-22 1997-10-02 1997-10-12",
    );
    check_rfc(
        "Weekly for 10 occurrences",
        "FREQ=WEEKLY;COUNT=10",
        SEPTEMBER_2,
        END_OF_1998,
        "1997-09-02 1997-09-09 1997-09-16 1997-09-23 1997-09-30 1997-10-07 1997-10-14 1997-10-21 1997-10-28 1997-11-04",
    );
    check_rfc(
        "Weekly until December 24, 1997",
        "FREQ=WEEKLY;UNTIL=19971224T000000Z",
        SEPTEMBER_2,
        END_OF_1998,
        "1997-09-02 1997-09-09 1997-09-16 1997-09-23 1997-09-30 1997-10-07 1997-10-14 1997-10-21 1997-10-28 1997-11-04 \
         1997-11-11 1997-11-18 1997-11-25 1997-12-02 1997-12-09 1997-12-16 1997-12-23",
    );
    check_rfc(
        "Weekly on Tuesday and Thursday for five weeks",
        "FREQ=WEEKLY;UNTIL=19971007T000000Z;WKST=SU;BYDAY=TU,TH",
        SEPTEMBER_2,
        END_OF_1998,
        "1997-09-02 1997-09-04 1997-09-09 1997-09-11 1997-09-16 1997-09-18 1997-09-23 1997-09-25 1997-09-30 1997-10-02",
    );
    check_rfc(
        "Every other week on Tuesday and Thursday, for 8 occurrences",
        "FREQ=WEEKLY;INTERVAL=2;COUNT=8;WKST=SU;BYDAY=TU,TH",
        SEPTEMBER_2,
        END_OF_1998,
        "1997-09-02 1997-09-04 1997-09-16 1997-09-18 1997-09-30 1997-10-02 1997-10-14 1997-10-16",
    );
}

#[test]
fn rfc_5545_monthly_and_yearly_examples() {
    check_rfc(
        "Monthly on the first Friday for 10 occurrences",
        "FREQ=MONTHLY;COUNT=10;BYDAY=1FR",
        "1997-09-05T09:00",
        END_OF_1998,
        "1997-09-05 1997-10-03 1997-11-07 1997-12-05 1998-01-02 1998-02-06 1998-03-06 1998-04-03 1998-05-01 1998-06-05",
    );
    check_rfc(
        "Monthly on the second-to-last Monday of the month for 6 months",
        "FREQ=MONTHLY;COUNT=6;BYDAY=-2MO",
        "1997-09-22T09:00",
        END_OF_1998,
        "1997-09-22 1997-10-20 1997-11-17 1997-12-22 1998-01-19 1998-02-16",
    );
    check_rfc(
        "Monthly on the third-to-the-last day of the month, forever",
        "FREQ=MONTHLY;BYMONTHDAY=-3",
        "1997-09-28T09:00",
        "1998-03-01T00:00:00Z",
        "1997-09-28 1997-10-29 1997-11-28 1997-12-29 1998-01-29 1998-02-26",
    );
    check_rfc(
        "The third instance into the month of one of Tuesday, Wednesday, or Thursday, for the next 3 months",
        "FREQ=MONTHLY;COUNT=3;BYDAY=TU,WE,TH;BYSETPOS=3",
        "1997-09-04T09:00",
        END_OF_1998,
        "1997-09-04 1997-10-07 1997-11-06",
    );
    check_rfc(
        "The second-to-last weekday of the month",
        "FREQ=MONTHLY;BYDAY=MO,TU,WE,TH,FR;BYSETPOS=-2",
        "1997-09-29T09:00",
        "1998-03-31T00:00:00Z",
        "1997-09-29 1997-10-30 1997-11-27 1997-12-30 1998-01-29 1998-02-26 1998-03-30",
    );
    check_rfc(
        "Every Thursday in March, forever",
        "FREQ=YEARLY;BYMONTH=3;BYDAY=TH",
        "1997-03-13T09:00",
        END_OF_1998,
        "1997-03-13 1997-03-20 1997-03-27 1998-03-05 1998-03-12 1998-03-19 1998-03-26",
    );
    check_rfc(
        "Monday of week number 20 (where the default start of the week is Monday), forever",
        "FREQ=YEARLY;BYWEEKNO=20;BYDAY=MO",
        "1997-05-12T09:00",
        END_OF_1998,
        "1997-05-12 1998-05-11",
    );
}

#[test]
fn rfc_5545_an_example_where_the_start_of_the_week_matters() {
    let from_monday = "FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=MO";
    let starts = "1997-08-05T09:00";
    check_rfc(
        "WKST=MO",
        from_monday,
        starts,
        END_OF_1998,
        "1997-08-05 1997-08-10 1997-08-19 1997-08-24",
    );
    let from_sunday = from_monday.replace("WKST=MO", "WKST=SU");
    check_rfc(
        "WKST=SU",
        &from_sunday,
        starts,
        END_OF_1998,
        "1997-08-05 1997-08-17 1997-08-19 1997-08-31",
    );
}

#[test]
fn a_skipped_hour_moves_forward_by_the_gap_and_is_still_one_session() {
    // RFC 5545, 3.3.5: TZID=America/New_York:20070311T023000 is 03:30 EDT (UTC-04:00).
    let found = leavings(
        "America/New_York",
        "2007-03-10T02:30",
        "FREQ=DAILY",
        "2007-03-10T00:00:00Z",
        "2007-03-13T00:00:00Z",
    );
    assert_eq!(
        found,
        [
            "2007-03-10T02:30:00-05:00",
            "2007-03-11T03:30:00-04:00",
            "2007-03-12T02:30:00-04:00"
        ]
    );
}

#[test]
fn an_hour_that_happens_twice_is_the_first_of_the_two() {
    // RFC 5545, 3.3.5: TZID=America/New_York:20071104T013000 is 01:30 EDT (UTC-04:00).
    let found = leavings(
        "America/New_York",
        "2007-11-03T01:30",
        "FREQ=DAILY",
        "2007-11-03T00:00:00Z",
        "2007-11-06T00:00:00Z",
    );
    assert_eq!(
        found,
        [
            "2007-11-03T01:30:00-04:00",
            "2007-11-04T01:30:00-04:00",
            "2007-11-05T01:30:00-05:00"
        ]
    );
}

#[test]
fn sessions_keep_their_hour_over_clock_changes_of_other_sizes() {
    // Zone database: Lord Howe moves by half an hour (2030-10-06 at 02:00), Samoa had no 2011-12-30 at all.
    let lord_howe = leavings(
        "Australia/Lord_Howe",
        "2030-10-05T02:15",
        "FREQ=DAILY;COUNT=3",
        "2030-10-01T00:00:00Z",
        "2030-10-31T00:00:00Z",
    );
    assert_eq!(
        lord_howe,
        [
            "2030-10-05T02:15:00+10:30",
            "2030-10-06T02:45:00+11:00",
            "2030-10-07T02:15:00+11:00"
        ]
    );
    let samoa = leavings(
        "Pacific/Apia",
        "2011-12-29T10:00",
        "FREQ=DAILY;COUNT=3",
        "2011-12-01T00:00:00Z",
        "2012-01-31T00:00:00Z",
    );
    assert_eq!(
        samoa,
        [
            "2011-12-29T10:00:00-10:00",
            "2011-12-31T10:00:00+14:00",
            "2011-12-31T10:00:00+14:00"
        ]
    );
}

#[test]
fn a_session_over_a_clock_change_lasts_as_long_as_the_clocks_say_for_its_first_date() {
    // Europe/Lisbon: at 01:00 UTC on 2030-03-31 clocks go from 01:00 to 02:00, so 00:30 to 04:30 is three hours.
    let session = "starts = \"2030-03-31T00:30\"\nends = \"04:30\"\n";
    let club = club_with("Europe/Lisbon", session);
    assert_eq!(club.sessions[0].lasts.num_minutes(), 180);
}

#[test]
fn the_id_of_a_session_is_its_wall_time_and_does_not_depend_on_the_question() {
    let session = "starts = \"2030-05-14T10:00\"\nlasts_min = 180\nrepeat = \"FREQ=WEEKLY;BYDAY=TU\"\n";
    let club = club_with("Atlantic/Madeira", session);
    let wide = occurrences(
        &club,
        instant("2030-01-01T00:00:00Z"),
        instant("2030-12-31T00:00:00Z"),
    );
    assert_eq!(wide.len(), 33, "Tuesdays from 14 May to 24 December 2030");
    assert_eq!(wide[1].id, "s@2030-05-21T10:00");
    assert_eq!(wide[1].alongside.to_rfc3339(), "2030-05-21T12:00:00+00:00");
    for occurrence in &wide {
        let next = occurrence.leaves + chrono::TimeDelta::seconds(1);
        assert_eq!(
            occurrences(&club, occurrence.leaves, next),
            std::slice::from_ref(occurrence),
            "from is included"
        );
        assert_eq!(
            occurrences(&club, next - chrono::TimeDelta::days(1), occurrence.leaves),
            [],
            "to is excluded"
        );
    }
}

#[test]
fn a_question_over_all_time_has_a_bounded_answer() {
    let club = club_with(
        "Asia/Kolkata",
        "starts = \"1970-01-01T10:00\"\nlasts_min = 60\nrepeat = \"FREQ=DAILY\"\n",
    );
    let all = occurrences(&club, DateTime::<Utc>::MIN_UTC, DateTime::<Utc>::MAX_UTC);
    assert_eq!(all.len(), club::OCCURRENCES_AT_MOST);
    assert_eq!(all[0].leaves_local.to_rfc3339(), "1970-01-01T10:00:00+05:30");
    assert_eq!(
        occurrences(&club, DateTime::<Utc>::MAX_UTC, DateTime::<Utc>::MIN_UTC),
        []
    );
}

#[test]
fn a_rule_that_leaves_its_start_out_is_a_warning_and_begins_where_the_rule_does() {
    let small = include_str!("../../../fixtures/club/small.toml").replace("BYDAY=TU", "BYDAY=TH");
    let parsed = parse(&small).unwrap_or_else(|mistakes| panic!("{mistakes}"));
    assert_eq!(parsed.warnings.len(), 1);
    assert_eq!(
        parsed.warnings[0].to_string(),
        "line 30, column 10: sessions[0].repeat: found a rule that leaves out Tuesday 2030-05-14 10:00, when it starts, \
         expected starts on the first session, Thursday 2030-05-16 10:00 by this rule"
    );
    let found = occurrences(
        &parsed.club,
        instant("2030-05-01T00:00:00Z"),
        instant("2030-05-20T00:00:00Z"),
    );
    assert_eq!(
        found.iter().map(|one| one.id.as_str()).collect::<Vec<_>>(),
        ["tuesday-morning@2030-05-16T10:00"]
    );
}

#[test]
fn rules_that_rfc_5545_forbids_or_a_day_session_cannot_use_are_refused() {
    let small = include_str!("../../../fixtures/club/small.toml");
    for (rule, expected) in [
        ("", "expected at least one letter"),
        ("BYDAY=TU", "FREQ"),
        ("FREQ=HOURLY", "FREQ to be"),
        ("FREQ=DAILY;FREQ=DAILY", "each once"),
        ("RRULE:FREQ=DAILY", "not RRULE:FREQ"),
        ("FREQ=DAILY;BYSECOND=0,1", "not BYSECOND"),
        ("FREQ=WEEKLY;BYDAY=2TU", "BYDAY"),
        ("FREQ=YEARLY;BYWEEKNO=20;BYDAY=1MO", "BYDAY"),
        ("FREQ=MONTHLY;BYDAY=XTU", "BYDAY"),
        ("FREQ=DAILY;COUNT=2;UNTIL=20310101T000000Z", "not both"),
        ("FREQ=DAILY;COUNT=0", "COUNT"),
        ("FREQ=DAILY;INTERVAL=0", "INTERVAL"),
        ("FREQ=DAILY;UNTIL=20310101", "UNTIL"),
        ("FREQ=DAILY;UNTIL=20290101T000000", "RFC 5545 allows"),
        ("FREQ=WEEKLY;BYMONTHDAY=3", "RFC 5545 allows"),
        ("FREQ=MONTHLY;BYMONTHDAY=32", "RFC 5545 allows"),
        ("FREQ=YEARLY;BYMONTH=2;BYMONTHDAY=30", "at least one session"),
        ("FREQ=DAILY\\nDTSTART:20300101T000000", "one line"),
    ] {
        let text = small.replace("FREQ=WEEKLY;BYDAY=TU", rule);
        let mistakes = parse(&text).map(|_| ()).expect_err(rule);
        assert_eq!(mistakes.0.len(), 1, "{rule}: {mistakes}");
        assert_eq!((mistakes.0[0].line, mistakes.0[0].column), (30, 10), "{rule}");
        assert!(mistakes.to_string().contains(expected), "{rule}: {mistakes}");
    }
}

#[test]
fn a_wall_time_is_placed_in_any_year_that_a_date_can_have() {
    for zone in [
        chrono_tz::America::New_York,
        chrono_tz::Pacific::Apia,
        chrono_tz::UTC,
    ] {
        for wall in ["1970-01-01T00:00:00", "2199-12-31T23:59:00"] {
            let wall: NaiveDateTime = wall.parse().expect("the test writes ISO 8601");
            assert_eq!(instant_of(wall, zone).naive_local(), wall);
        }
    }
}
