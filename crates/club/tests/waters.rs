//! A venue's waters, tables at the masthead and lessons: what is refused, what is warned of, what `check` says.
#![expect(
    clippy::expect_used,
    clippy::panic,
    reason = "a test's helper that fails is a failed test"
)]

use club::{parse, readable_checks};
use proptest::prelude::*;
use seaway::{DirectionFrom, Knots};

const SMALL: &str = include_str!("../../../fixtures/club/small.toml");
const RICH: &str = include_str!("../../../fixtures/club/rich.toml");

/// The rich club's file with a piece replaced.
fn rich_with(from: &str, to: &str) -> String {
    assert!(RICH.contains(from), "the rich club has no {from:?}");
    RICH.replacen(from, to, 1)
}

/// The one mistake of a rich club with a piece replaced, without its place.
#[track_caller]
fn check(from: &str, to: &str, expected: &str) {
    let mistakes = match parse(&rich_with(from, to)) {
        Ok(_) => panic!("{to:?} was accepted"),
        Err(mistakes) => mistakes.0,
    };
    let said: Vec<String> = mistakes
        .iter()
        .map(|one| format!("{}: found {}, expected {}", one.key, one.found, one.expected))
        .collect();
    assert_eq!(said, [expected]);
    let line = RICH[..RICH.find(from).expect("it is there")].lines().count() as u32;
    assert!(
        mistakes[0].line.abs_diff(line) <= 2 || mistakes[0].found == "nothing",
        "{} is not near line {line}",
        mistakes[0]
    );
}

#[track_caller]
fn passes(from: &str, to: &str) {
    if let Err(mistakes) = parse(&rich_with(from, to)) {
        panic!("{to:?}: {mistakes}");
    }
}

#[test]
fn the_clubs_hours_come_in_pairs_and_rise() {
    check(
        "sails_to = \"19:00\"",
        "",
        "club.sails_from: found \"08:30\", expected sails_to beside it",
    );
    check(
        "sails_from = \"08:30\"",
        "",
        "club.sails_to: found \"19:00\", expected sails_from beside it",
    );
    check(
        "\"19:00\"",
        "\"08:30\"",
        "club.sails_to: found \"08:30\", expected after 08:30, sails_from",
    );
}

#[test]
fn a_learned_factor_below_one_needs_hours_a_signature_and_is_never_below_its_bound() {
    // The rich club asks for 42 hours and 0.86; the defaults are 40 and 0.85.
    let learned = "hours = 52, signed_by = \"the principal\"";
    let at = "venues[0].wind_sectors[0]";
    check(
        learned,
        "hours = 41, signed_by = \"the principal\"",
        &format!(
            "{at}.learned.hours: found 41, expected at least 42 hours logged above 12 kn: a learned factor below 1 \
             takes wind away"
        ),
    );
    check(
        learned,
        "hours = 52",
        &format!(
            "{at}.learned.signed_by: found nothing, expected who of the club signed it, such as \"the principal\""
        ),
    );
    passes(learned, "hours = 42, signed_by = \"the principal\"");
    check(
        "factor = 0.9\nlearned",
        "factor = 0.85\nlearned",
        &format!("{at}.factor: found 0.85, expected at least 0.86: a learned factor is never below it"),
    );
    passes("factor = 0.9\nlearned", "factor = 0.86\nlearned");
    passes(
        "factor = 0.9\nlearned = { hours = 52",
        "factor = 1.0\nlearned = { hours = 1",
    );
    // A factor the club gives on its own word may be lower: it is a decision, not a statistic.
    passes(
        "factor = 0.9\nlearned = { hours = 52, signed_by = \"the principal\" }",
        "factor = 0.6",
    );
}

#[test]
fn a_sector_is_never_a_whole_circle_read_as_one_direction() {
    for (from, to) in [(0, 360), (360, 0), (90, 90)] {
        check(
            "from_deg = 230\nto_deg = 300",
            &format!("from_deg = {from}\nto_deg = {to}"),
            &format!(
                "venues[0].limit_sectors[0].to_deg: found {to}, expected another direction than from_deg; a whole circle is \
                 two sectors, 0 to 180 and 180 to 360"
            ),
        );
    }
    passes("from_deg = 230\nto_deg = 300", "from_deg = 180\nto_deg = 360");
}

#[test]
fn a_high_water_carries_its_offset() {
    let first = "2030-05-14T06:12:00+01:00";
    for (written, found) in [
        ("2030-05-14T06:12:00", "2030-05-14T06:12:00"),
        ("\"2030-05-14T06:12:00\"", "\"2030-05-14T06:12:00\""),
        ("\"2030-05-14T06:12\"", "\"2030-05-14T06:12\""),
        ("\"2030-05-14 06:12\"", "\"2030-05-14 06:12\""),
    ] {
        check(
            first,
            written,
            &format!(
                "venues[0].tide.high_waters[0]: found {found}, expected a date and time with its offset, such as \
                 \"2030-05-14T06:12:00+01:00\" (without one it could be meant by any clock)"
            ),
        );
    }
    for wrong in [
        "2030-05-14",
        "\"tomorrow\"",
        "6.2",
        "\"2030-02-30T06:12:00Z\"",
        "\"1830-05-14T06:12:00Z\"",
    ] {
        check(
            first,
            wrong,
            &format!(
                "venues[0].tide.high_waters[0]: found {wrong}, expected a date and time with its offset, such as \
                 \"2030-05-14T06:12:00+01:00\""
            ),
        );
    }
    // RFC 3339, 5.8: the same instant in three ways; and without seconds, as tide tables print it.
    for same in [
        "\"2030-05-14T05:12:00Z\"",
        "2030-05-13T21:12:00-08:00",
        "\"2030-05-14T06:12+01:00\"",
        "\"2030-05-14T05:12Z\"",
    ] {
        let club = parse(&rich_with(first, same))
            .unwrap_or_else(|mistakes| panic!("{mistakes}"))
            .club;
        let at = club.venues[0].high_waters[0].at;
        assert_eq!(at.to_rfc3339(), "2030-05-14T05:12:00+00:00", "{same}");
    }
}

#[test]
fn a_stream_and_a_gate_need_high_waters() {
    let (before, rest) = RICH.split_once("high_waters = [").expect("there are high waters");
    let (_, after) = rest.split_once("\n]\n").expect("they end");
    let without = parse(&format!("{before}{after}")).map(|_| ());
    let said = without.expect_err("the stream is reckoned from them").to_string();
    assert!(
        said.contains("venues[0].tide.high_waters: found nothing"),
        "{said}"
    );
    let (before, rest) = RICH.split_once("[venues.tide]").expect("there is a tide");
    let (_, after) = rest.split_once("[venues.sea_breeze]").expect("then a sea breeze");
    let without = parse(&format!("{before}[venues.sea_breeze]{after}")).map(|_| ());
    let mistakes = without.expect_err("the gate is reckoned from them");
    assert_eq!(mistakes.0.len(), 1, "{mistakes}");
    assert_eq!(mistakes.0[0].key, "venues[0].entrance.gate");
    assert!(
        mistakes.0[0].expected.starts_with("high waters in [venues.tide]"),
        "{mistakes}"
    );
    check(
        "opens_before_h = 3, shuts_after_h = 2.5",
        "opens_before_h = 0, shuts_after_h = 0",
        "venues[0].entrance.gate.shuts_after_h: found 0, expected more than 0, or opens_before_h more than 0: this gate \
         never opens",
    );
}

#[test]
fn mean_ranges_come_in_pairs_and_belong_to_a_stream() {
    let at = "venues[0].tide";
    check(
        "neap_range_m = 1.9\n",
        "",
        &format!("{at}.spring_range_m: found 4.2, expected neap_range_m beside it"),
    );
    check(
        "spring_range_m = 4.2\n",
        "",
        &format!("{at}.neap_range_m: found 1.9, expected spring_range_m beside it"),
    );
    check(
        "spring_range_m = 4.2",
        "spring_range_m = 1.9",
        &format!("{at}.spring_range_m: found 1.9, expected more than 1.9, neap_range_m"),
    );
    let (before, rest) = RICH.split_once("stream = [").expect("there is a stream");
    let (_, after) = rest.split_once("\n]\n").expect("it ends");
    let said = parse(&format!("{before}{after}"))
        .map(|_| ())
        .expect_err("ranges alone say nothing");
    assert!(
        said.to_string()
            .ends_with("expected stream beside it: the ranges tell springs from neaps in it"),
        "{said}"
    );
    let one_row =
        format!("{before}stream = [{{ hour = 0, set_deg = 1, springs_kn = 1, neaps_kn = 1 }}]\n{after}");
    let said = parse(&one_row).map(|_| ()).expect_err("one row is no table");
    assert!(
        said.to_string()
            .ends_with("venues[0].tide.stream: found one entry, expected at least 2"),
        "{said}"
    );
}

#[test]
fn the_keys_of_a_masthead_table_belong_to_it_alone() {
    let only = "expected it only with table_wind = \"apparent-masthead\" (a table of true wind at 10 m has no use for it)";
    let stintwing = "table_wind = \"true\"";
    check(
        stintwing,
        "table_wind = \"true\"\nmasthead_m = 15",
        &format!("boats[1].masthead_m: found 15, {only}"),
    );
    check(
        stintwing,
        "close_hauled_kn = 5",
        &format!("boats[1].close_hauled_kn: found 5, {only}"),
    );
    check(
        "masthead_m = 13.5\n",
        "",
        "boats[0].masthead_m: found nothing, expected how high above the water the masthead's instrument is, metres",
    );
    check(
        stintwing,
        "table_wind = \"apparent\"",
        "boats[1].table_wind: found \"apparent\", expected one of true, apparent-masthead",
    );
    check(
        stintwing,
        "table_wind = true",
        "boats[1].table_wind: found true, expected \"true\" or \"apparent-masthead\", in quotation marks",
    );
    let default = parse(&rich_with("close_hauled_kn = 4.8\n", "")).expect("it has a default");
    let club::TableWind::ApparentAtMasthead { boat_speed, .. } = default.club.boats[0].table_wind else {
        panic!("the table still speaks of the masthead");
    };
    assert_eq!(boat_speed, Knots(5.0));
}

#[test]
fn the_breeze_to_plan_for_gusts_no_less_than_its_mean() {
    check(
        "sea_breeze_gust_kn = 21",
        "sea_breeze_gust_kn = 15",
        "policy.sea_breeze_gust_kn: found 15, expected at least 16, sea_breeze_mean_kn",
    );
}

#[test]
fn high_waters_that_end_before_a_session_are_a_warning() {
    let last_year = RICH
        .replace("2030-05-14T06:12:00+01:00", "2029-05-14T06:12:00+01:00")
        .replace("2030-05-14T18:40:00+01:00", "2029-05-14T18:40:00+01:00")
        .replace("2030-05-15T07:05:00+01:00", "2029-05-15T07:05:00+01:00")
        .replace("2030-05-15T19:33:00+01:00", "2029-05-15T19:33:00+01:00");
    let warnings = parse(&last_year).expect("it is possible").warnings;
    let said: Vec<String> = warnings.iter().map(ToString::to_string).collect();
    let line = RICH[..RICH.find("high_waters = [").expect("there are some")]
        .lines()
        .count()
        + 1;
    let expected = format!(
        "line {line}, column 15: venues[0].tide.high_waters: found a last high water at 2029-05-15 19:33, expected high \
         waters beyond 2030-05-14 15:30, when session \"starters-tuesday\" first leaves"
    );
    assert_eq!(said, [expected]);
}

#[test]
fn the_end_of_a_masthead_table_is_compared_in_its_own_wind() {
    // Watchkeepers stop at 32 kn of gusts: of Marlet's row to 42 kn at the masthead (37.3 kn of true wind) they keep clear.
    let aboard = RICH.replace("boat = \"stintwing\"", "boat = \"marlet\"");
    assert_eq!(parse(&aboard).expect("it is possible").warnings, []);
    // A row to 35 kn at the masthead is reached by less than 32 kn of true wind.
    let short = aboard.replace(
        "mean_up_to_kn = 33, gust_up_to_kn = 42",
        "mean_up_to_kn = 33, gust_up_to_kn = 35",
    );
    let warnings = parse(&short).expect("it is possible").warnings;
    assert_eq!(warnings.len(), 1, "{warnings:?}");
    let in_table = parse(&short).expect("it is possible").club.boats[0]
        .in_table(Knots(32.0))
        .0;
    let expected = format!(
        "at least {in_table:.1} at the masthead (32 of true wind), where level \"Watchkeepers\" stops"
    );
    assert!(
        warnings[0].expected.starts_with(&expected),
        "{}",
        warnings[0].expected
    );
}

/// The small club with more in its venue.
fn small_venue_with(more: &str) -> String {
    SMALL.replacen("[[boats]]", &format!("{more}\n[[boats]]"), 1)
}

proptest! {
    #[test]
    fn a_fetch_table_parses_exactly_when_its_directions_differ_and_its_waters_can_be(
        rows in prop::collection::vec((0i32..9, -2i32..6), 0..6),
    ) {
        let written: Vec<String> = rows
            .iter()
            .map(|(from, miles)| format!("{{ from_deg = {}, distance_nm = {miles} }}", from * 45))
            .collect();
        let parsed = parse(&small_venue_with(&format!("[venues.fetch]\ndirections = [{}]", written.join(", "))));
        let mut directions: Vec<i32> = rows.iter().map(|(from, _)| from % 8).collect();
        directions.sort_unstable();
        let distinct = directions.windows(2).all(|pair| pair[0] != pair[1]);
        let possible = rows.iter().all(|(_, miles)| *miles >= 0);
        prop_assert_eq!(parsed.is_ok(), !rows.is_empty() && distinct && possible);
        if let Ok(parsed) = parsed {
            let fetch = parsed.club.venues[0].fetch.clone().expect("it was given");
            for (from, miles) in &rows {
                let metres = fetch.table.fetch(DirectionFrom::new(f64::from(from * 45))).0;
                prop_assert!((metres - f64::from(*miles) * 1852.0).abs() < 1e-6);
            }
        }
    }

    #[test]
    fn high_waters_parse_exactly_when_they_ascend_by_six_hours_or_more(
        steps in prop::collection::vec(-2i64..30, 1..6), offset in -11i32..=11,
    ) {
        let zone = chrono::FixedOffset::east_opt(offset * 3600).expect("it is an offset");
        let mut at: chrono::DateTime<chrono::Utc> = "2030-05-14T05:12:00Z".parse().expect("it is an instant");
        let mut instants = vec![at];
        for step in &steps {
            at += chrono::TimeDelta::hours(*step);
            instants.push(at);
        }
        let written: Vec<String> =
            instants.iter().map(|at| format!("\"{}\"", at.with_timezone(&zone).to_rfc3339())).collect();
        let parsed = parse(&small_venue_with(&format!("[venues.tide]\nhigh_waters = [{}]", written.join(", "))));
        prop_assert_eq!(parsed.is_ok(), steps.iter().all(|step| *step >= 6));
        if let Ok(parsed) = parsed {
            let read: Vec<_> = parsed.club.venues[0].high_waters.iter().map(|high| high.at).collect();
            prop_assert_eq!(read, instants);
        }
    }

    #[test]
    fn a_wind_taken_out_of_a_masthead_table_and_back_is_the_same(
        mast in 5.0f64..40.0, speed in 1.0f64..10.0, closest in 30.0f64..60.0, wind in 0.0f64..60.0,
    ) {
        let text = SMALL.replacen(
            "name = \"Tern\"",
            &format!(
                "name = \"Tern\"\ntable_wind = \"apparent-masthead\"\nmasthead_m = {mast:.2}\nclose_hauled_kn = {speed:.2}\n\
                 closest_deg = {closest:.1}"
            ),
            1,
        );
        let boat = parse(&text).unwrap_or_else(|mistakes| panic!("{mistakes}")).club.boats[0].clone();
        let back = boat.out_of_table(boat.in_table(Knots(wind)));
        prop_assert!((back.0 - wind).abs() < 1e-6, "{wind} came back as {}", back.0);
    }

    #[test]
    fn the_rich_file_with_a_piece_replaced_is_read_or_refused_but_breaks_nothing(
        at in 0..RICH.len(), length in 0usize..40, piece in "[ -~\n]{0,12}",
    ) {
        let end = (at + length).min(RICH.len());
        prop_assume!(RICH.is_char_boundary(at) && RICH.is_char_boundary(end));
        let text = format!("{}{piece}{}", &RICH[..at], &RICH[end..]);
        match parse(&text) {
            Ok(parsed) => prop_assert!(!readable_checks(&parsed.club).is_empty()),
            Err(mistakes) => prop_assert!(!mistakes.0.is_empty()),
        }
    }
}
