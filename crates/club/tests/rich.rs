//! The rich club: every key there is, read as it is written.
#![expect(clippy::panic, reason = "a test's helper that fails is a failed test")]

use chrono::NaiveTime;
use club::{Club, Combine, Lesson, Limit, TableWind, parse, readable_checks};
use seaway::wave_growth::FetchTable;
use seaway::{DirectionFrom, Knots, LatLon, Metres, NauticalMiles};

const SMALL: &str = include_str!("../../../fixtures/club/small.toml");
const RICH: &str = include_str!("../../../fixtures/club/rich.toml");

fn rich() -> Club {
    let parsed = parse(RICH).unwrap_or_else(|mistakes| panic!("{mistakes}"));
    assert_eq!(parsed.warnings, [], "nothing in it is odd");
    parsed.club
}

fn clock(hour: u32, minute: u32) -> Option<NaiveTime> {
    NaiveTime::from_hms_opt(hour, minute, 0)
}

#[test]
fn the_clubs_hours_and_its_policy_are_read() {
    let club = rich();
    assert_eq!(club.sails, clock(8, 30).zip(clock(19, 0)));
    let policy = &club.policy;
    assert_eq!(policy.combine, Combine::Mean);
    assert_eq!(Some(policy.sea_breeze_from), clock(11, 30));
    // Every number of the file's policy differs from its default, so one that were not read would show.
    let (given, default) = (format!("{policy:#?}"), format!("{:#?}", club::Policy::default()));
    let read_from: Vec<&str> = given
        .lines()
        .zip(default.lines())
        .filter(|(given, default)| given == default && given.contains(char::is_numeric))
        .map(|(given, _)| given.trim())
        .collect();
    let floor = [
        "lead_h: 24.0,",
        "2.5,",
        "timing_h: 2.0,",
        "lead_h: 72.0,",
        "4.0,",
        "timing_h: 6.0,",
    ];
    assert_eq!(read_from, floor, "the spread floor alone is the default");
}

#[test]
fn a_venues_waters_are_read() {
    let club = rich();
    let venue = &club.venues[0];
    let entrance = venue.entrance.as_ref().unwrap_or_else(|| panic!("an entrance"));
    let open_to = entrance
        .open_to
        .unwrap_or_else(|| panic!("it is open to a sector"));
    assert!(open_to.holds(DirectionFrom::new(310.0)) && !open_to.holds(DirectionFrom::new(311.0)));
    assert_eq!(
        entrance.wave,
        Some(Limit {
            caution_at: 0.8,
            stop_at: 1.3
        })
    );
    let gate = entrance
        .gate
        .map(|gate| (gate.opens_before_h, gate.shuts_after_h));
    assert_eq!(gate, Some((3.0, 2.5)));

    let learned = venue.wind_sectors[0]
        .learned
        .as_ref()
        .map(|learned| (learned.hours, learned.signed_by.as_str()));
    assert_eq!(learned, Some((52, "the principal")));
    assert_eq!(venue.wind_sectors[1].learned, None);
    assert_eq!(venue.limit_sectors[0].factor, 0.9);
    assert!(venue.limit_sectors[0].sector.holds(DirectionFrom::new(230.0)));

    // A nautical mile is 1,852 m (International System of Units brochure, table of other units).
    let metres = |miles: f64| Metres(miles * 1852.0);
    let rows = [(0.0, 1.0), (90.0, 0.6), (180.0, 2.5), (250.0, 6.0), (315.0, 2.0)];
    let rows = rows.map(|(from, miles)| (DirectionFrom::new(from), metres(miles)));
    let fetch = venue.fetch.as_ref().unwrap_or_else(|| panic!("a fetch"));
    assert_eq!(Some(&fetch.table), FetchTable::new(rows.to_vec()).as_ref());
    assert_eq!((fetch.depth, fetch.alone), (Some(Metres(8.0)), true));

    let breeze = venue.sea_breeze.unwrap_or_else(|| panic!("a sea breeze"));
    assert_eq!(Some(breeze.land), LatLon::new(43.7, -15.1));
    assert_eq!(breeze.onshore_from, DirectionFrom::new(245.0));
    assert_eq!(venue.shores[0].distance, NauticalMiles(1.2));
}

#[test]
fn high_waters_and_the_stream_are_read() {
    let club = rich();
    let venue = &club.venues[0];
    let high_waters: Vec<(String, Option<f64>)> = venue
        .high_waters
        .iter()
        .map(|high| (high.at.to_rfc3339(), high.range.map(|range| range.0)))
        .collect();
    // Hours of UTC: an hour less than the file's, whose offset is +01:00.
    let expected = [
        ("2030-05-14T05:12:00+00:00", None),
        ("2030-05-14T17:40:00+00:00", None),
        ("2030-05-15T06:05:00+00:00", Some(3.4)),
        ("2030-05-15T18:33:00+00:00", Some(3.1)),
    ];
    assert_eq!(high_waters, expected.map(|(at, range)| (at.to_owned(), range)));
    let stream = venue.stream.as_ref().unwrap_or_else(|| panic!("a stream"));
    assert_eq!(stream.ranges, Some((Metres(4.2), Metres(1.9))));
    let rows: Vec<(i8, f64, f64, f64)> = stream
        .rows
        .iter()
        .map(|row| (row.hour, row.set.degrees(), row.springs.0, row.neaps.0))
        .collect();
    let expected = [
        (-6, 200.0, 0.4, 0.2),
        (-3, 20.0, 1.8, 0.9),
        (0, 20.0, 0.3, 0.1),
        (3, 200.0, 2.1, 1.0),
        (6, 200.0, 0.5, 0.2),
    ];
    assert_eq!(rows, expected);
}

#[test]
fn boats_and_levels_are_read() {
    let club = rich();
    let marlet = &club.boats[0];
    let aloft = TableWind::ApparentAtMasthead {
        height: Metres(13.5),
        boat_speed: Knots(4.8),
    };
    assert_eq!((marlet.table_wind, marlet.closest_deg), (aloft, 43.0));
    let marks: Vec<Option<&str>> = marlet
        .reef_table
        .rows()
        .iter()
        .map(|row| row.foot_mark.as_deref())
        .collect();
    assert_eq!(marks, [None, Some("one diamond"), Some("two diamonds")]);
    let stintwing = &club.boats[1];
    assert_eq!(
        (stintwing.table_wind, stintwing.closest_deg),
        (TableWind::True, 45.0),
        "45 degrees is the default"
    );

    let lesson = |name: &str, wind: Option<(f64, f64)>, wave: Option<(f64, f64)>, light_air| Lesson {
        name: name.to_owned(),
        wind: wind.map(|(from, to)| (Knots(from), Knots(to))),
        wave: wave.map(|(from, to)| (Metres(from), Metres(to))),
        light_air,
    };
    let [starters, watchkeepers] = club.levels.as_slice() else {
        panic!("two levels");
    };
    assert_eq!(
        starters.syllabus,
        [
            lesson(
                "Tacking and gybing on a triangle",
                Some((8.0, 14.0)),
                Some((0.0, 0.8)),
                false
            ),
            lesson("Sailing without the rudder", Some((3.0, 8.0)), None, true),
            lesson("Knots and the fire drill", None, None, false),
        ]
    );
    assert_eq!(watchkeepers.syllabus, []);
    assert!(starters.thunder_stops);
    assert!(!watchkeepers.thunder_stops, "by default the first level's alone");
}

#[test]
fn everything_that_was_understood_is_said() {
    let lines = readable_checks(&rich());
    for expected in [
        "openings are looked for from 08:30 to 19:00, by daylight",
        "  combine = \"mean\" (default \"worse\")",
        "  no_go_from = 0.35 (default 0.4)",
        "    the Bar Buoys: seas from 220 to 310 run into it; wave height: caution at or above 0.8 m, stop at or above 1.3 m; \
         passable from 3 h before high water to 2.5 h after",
        "    wind from 330 to 030: mean times 0.9, learned from 52 hours above 12 kn, signed by the principal",
        "    wind from 230 to 300: limits of wind and sea times 0.9",
        "    open water: 1.0 nm from 000, 0.6 nm from 090, 2.5 nm from 180, 6.0 nm from 250, 2.0 nm from 315; 8 m deep; its \
         sea is the local wind's alone",
        "    4 high waters, from 2030-05-14 06:12 to 2030-05-15 19:33",
        "    stream by the hour from high water; springs at a range of 4.2 m, neaps at 1.9 m; 2 high waters without a range, \
         taken for springs:",
        "      -3 h: sets 020, 1.8 kn at springs, 0.9 at neaps",
        "    a sea breeze from 245, driven by the land at 43.70 N 15.10 W",
        "    her table speaks of apparent wind at the masthead, 13.5 m up, close hauled at 4.8 kn; she sails no closer to the \
         true wind than 43 degrees",
        "    lesson Sailing without the rudder: mean wind 3 to 8 kn, for light air",
        "    lesson Knots and the fire drill: any wind and sea",
        "      by default: boom 1 m above the deck, freeboard 1.01 m, draught 2.02 m, 12 % of the luff taken by a reef, 2 reefs \
         in the main, comfortable up to 20 degrees",
    ] {
        assert!(
            lines.iter().any(|line| line == expected),
            "missing: {expected}\nin\n{}",
            lines.join("\n")
        );
    }
    assert!(
        lines
            .iter()
            .any(|line| line.contains("row 2: mean to   24 kn") && line.contains("to the mark one diamond")),
        "{}",
        lines.join("\n")
    );
    let small = readable_checks(&parse(SMALL).unwrap_or_else(|mistakes| panic!("{mistakes}")).club);
    assert!(small.contains(&"  every number is the default".to_owned()));
    assert!(small.contains(&"openings are looked for at any hour of daylight".to_owned()));
}
