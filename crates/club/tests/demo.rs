//! The club files that ship: they are read without a mistake, and the demo's week is what its story needs.

use club::{occurrences, parse, parse_within, readable_checks};
use std::collections::BTreeSet;

const DEMO: &str = include_str!("../../../fixtures/demo/club.toml");

#[test]
fn the_small_club_is_thirty_lines_without_mistake_or_warning() {
    let text = include_str!("../../../fixtures/club/small.toml");
    assert!(text.lines().count() <= 30, "{} lines", text.lines().count());
    let parsed = parse(text).unwrap_or_else(|mistakes| panic!("{mistakes}"));
    assert_eq!(parsed.warnings, []);
    let club = parsed.club;
    let counts = [
        club.venues.len(),
        club.boats.len(),
        club.levels.len(),
        club.sessions.len(),
    ];
    assert_eq!(counts, [1, 1, 2, 1]);
    assert!(club.sessions[0].recurrence.is_some(), "its session recurs");
}

#[test]
fn the_demo_club_has_no_mistake_and_lies_within_the_invented_run() {
    // The run's grid, from its own description: 46-41 N, 18-13 W.
    let covers = |at: seaway::LatLon| (41.0..=46.0).contains(&at.lat) && (-18.0..=-13.0).contains(&at.lon);
    let coverage = club::Coverage {
        area: "46 N to 41 N, 18 W to 13 W",
        covers: &covers,
    };
    let parsed = parse_within(DEMO, &coverage).unwrap_or_else(|mistakes| panic!("{mistakes}"));
    assert_eq!(parsed.warnings, []);
    assert_eq!(parsed.club.version.len(), 64);
}

#[test]
fn the_policy_written_out_in_the_demo_is_the_default() {
    let parsed = parse(DEMO).unwrap_or_else(|mistakes| panic!("{mistakes}"));
    assert_eq!(parsed.club.policy, club::Policy::default());
}

#[test]
fn the_demo_week_has_sessions_for_every_level_and_boat_and_one_beyond_the_run() {
    let club = parse(DEMO).unwrap_or_else(|mistakes| panic!("{mistakes}")).club;
    let now = "2030-05-13T15:00:00Z".parse().expect("it is an instant");
    let week = occurrences(&club, now, now + chrono::TimeDelta::days(7));
    let ids: Vec<&str> = week.iter().map(|one| one.id.as_str()).collect();
    assert_eq!(ids.len(), 11, "{ids:?}");
    assert_eq!(ids.first(), Some(&"monday-evening@2030-05-13T17:00"));
    let levels: BTreeSet<usize> = week.iter().map(|one| club.sessions[one.session].level).collect();
    let boats: BTreeSet<usize> = week.iter().map(|one| club.sessions[one.session].boat).collect();
    assert_eq!((levels.len(), boats.len()), (3, 2));
    // The run ends at 2030-05-18T00:00Z.
    let run_ends: chrono::DateTime<chrono::Utc> = "2030-05-18T00:00:00Z".parse().expect("it is an instant");
    assert_eq!(week.iter().filter(|one| one.leaves >= run_ends).count(), 1);
}

#[test]
fn what_was_understood_is_said_in_plain_lines() {
    let club = parse(DEMO).unwrap_or_else(|mistakes| panic!("{mistakes}")).club;
    let lines = readable_checks(&club);
    for expected in [
        "Vanterholm Sailing School (vanterholm): times in Atlantic/Madeira, decides at 18:00 the day before",
        "    row 3: mean to   19 kn, gust to   25 kn: 2 reefs, 50 % of the headsail (sheet cars two holes forward)",
        "    past a mean of 24 kn or a gust of 31 kn she does not sail",
        "    First days: mean wind caution 14 (row 2), stop 18 (row 3); gust caution 19 (row 2), stop 24 (row 3)",
        "    Skippers in training: mean wind caution 24 (row 4), stop 30 (past the table); gust caution 31 (row 4), stop 38 (past the table)",
        "    visibility: caution at or below 3000 m, stop at or below 1000 m",
        "  wednesday-skippers: Vanter Roads, Brightmere (11 m), Skippers in training; first Wed 2030-05-15 08:00 for 240 min, then FREQ=WEEKLY;BYDAY=WE",
    ] {
        assert!(
            lines.iter().any(|line| line == expected),
            "missing: {expected}\nin\n{}",
            lines.join("\n")
        );
    }
}
