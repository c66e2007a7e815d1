//! When the advisor wakes: tables of moments. Clock changes are those of Directive 2000/84/EC, articles 2 and 3: 01:00 UTC on
//! the last Sundays of March and October, in 2030 the 31st and the 27th; Lisbon's wall time is UTC, in summer UTC + 1.

use crate::samples::{may, text};
use advisor::{Due, Rhythm, Wake, Why, decision_hours, next_wake};
use chrono::{DateTime, TimeDelta, Utc};

const RHYTHM: Rhythm = Rhythm {
    look: TimeDelta::seconds(10),
    beat: TimeDelta::minutes(10),
};

fn due(advised_at: DateTime<Utc>) -> Due {
    Due {
        decision_hours: vec![may(13, 17, 0), may(14, 17, 0)],
        valid_until: vec![may(13, 15, 30), may(13, 21, 30)],
        ..Due::from_start(advised_at)
    }
}

#[test]
fn the_earliest_of_what_is_due_is_next() {
    let second = TimeDelta::seconds(1);
    let table = [
        // Nothing near: only a look at the store.
        (
            may(13, 15, 0),
            may(13, 15, 0),
            may(13, 15, 0) + second * 10,
            Why::Look,
        ),
        // An advisory ends in five seconds, before the next look.
        (
            may(13, 15, 30) - second * 5,
            may(13, 15, 25),
            may(13, 15, 30) + second,
            Why::NoLongerValid,
        ),
        // It was advised on at that moment: it is not waited for again.
        (
            may(13, 15, 30),
            may(13, 15, 30),
            may(13, 15, 30) + second * 10,
            Why::Look,
        ),
        // The decision hour came while the last advising was at work: at once.
        (
            may(13, 17, 0) + second * 3,
            may(13, 16, 59),
            may(13, 17, 0) + second * 3,
            Why::DecisionHour,
        ),
        // A beat after the last advising, whenever the last look was.
        (
            may(13, 18, 10) - second,
            may(13, 18, 0),
            may(13, 18, 10),
            Why::Beat,
        ),
        (may(13, 18, 30), may(13, 18, 0), may(13, 18, 30), Why::Beat),
    ];
    for (now, advised_at, at, why) in table {
        assert_eq!(
            next_wake(now, &due(advised_at), RHYTHM),
            Wake { at, why },
            "{now}"
        );
    }
    // Both at one moment: the decision hour is the reason.
    let mut both = due(may(13, 16, 55));
    both.valid_until.push(may(13, 17, 0) - second);
    let wake = next_wake(may(13, 17, 0) - second, &both, RHYTHM);
    assert_eq!((wake.at, wake.why), (may(13, 17, 0), Why::DecisionHour));
}

#[test]
fn after_faults_it_waits_longer_each_time_and_never_longer_than_a_beat() {
    let now = may(13, 15, 0);
    let pauses = [1, 2, 3, 5, 6, 7, u32::MAX].map(|faults| {
        let due = Due {
            faults,
            ..Due::from_start(now)
        };
        let wake = next_wake(now, &due, RHYTHM);
        assert_eq!(wake.why, Why::Beat);
        (wake.at - now).num_seconds()
    });
    assert_eq!(pauses, [20, 40, 80, 320, 600, 600, 600]);
}

#[test]
fn decision_hours_keep_to_the_clubs_wall_through_clock_changes() {
    let hours = |decides_at: &str, first: &str| {
        let text = text("pontoon")
            .replace("Atlantic/Madeira", "Europe/Lisbon")
            .replacen(
                "public = true",
                &format!("public = true, decides_at = \"{decides_at}\""),
                1,
            )
            .replace(
                "starts = \"2030-05-14T10:00\"",
                &format!("starts = \"{first}T10:00\""),
            )
            .replace(
                "repeat = \"FREQ=WEEKLY;BYDAY=TU\"",
                "repeat = \"FREQ=DAILY;COUNT=2\"",
            );
        let club = club::parse(&text).unwrap().club;
        let from = format!("{first}T00:00:00Z").parse().unwrap();
        decision_hours(&club, &club::occurrences(&club, from, from + TimeDelta::days(3)))
            .iter()
            .map(|hour| hour.format("%m-%dT%H:%M").to_string())
            .collect::<Vec<_>>()
    };
    assert_eq!(hours("18:00", "2030-03-31"), ["03-30T18:00", "03-31T17:00"]);
    assert_eq!(hours("18:00", "2030-10-27"), ["10-26T17:00", "10-27T18:00"]);
    // Half past one is skipped in spring: an hour later by the wall. In autumn it comes twice: the first counts.
    assert_eq!(hours("01:30", "2030-03-31"), ["03-30T01:30", "03-31T01:30"]);
    assert_eq!(hours("01:30", "2030-10-27"), ["10-26T00:30", "10-27T00:30"]);
}
