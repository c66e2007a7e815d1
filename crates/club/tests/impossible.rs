//! Impossible club files: every mistake at once, each with its line, its column, what was found and what was expected.
//!
//! The expected lines were written from the file by eye (line and column with an editor), not from the output.

use club::{Coverage, FILE_AT_MOST, parse, parse_bytes, parse_within};

/// The invented run's area, from the description of its grid: 46-41 N, 18-13 W.
fn in_the_invented_area(at: seaway::LatLon) -> bool {
    (41.0..=46.0).contains(&at.lat) && (-18.0..=-13.0).contains(&at.lon)
}

const SMALL: &str = include_str!("../../../fixtures/club/small.toml");

#[test]
fn every_mistake_of_an_impossible_file_is_reported_at_once() {
    let text = include_str!("../../../fixtures/club/impossible.toml");
    let coverage = Coverage {
        area: "46 N to 41 N, 18 W to 13 W",
        covers: &in_the_invented_area,
    };
    let mistakes = parse_within(text, &coverage).expect_err("the file is impossible");
    let expected: Vec<&str> = include_str!("../../../fixtures/club/impossible.expected.txt")
        .lines()
        .collect();
    let found: Vec<String> = mistakes.0.iter().map(ToString::to_string).collect();
    for (found, expected) in found.iter().zip(&expected) {
        assert_eq!(found, expected);
    }
    assert_eq!(found.len(), expected.len(), "all found:\n{mistakes}");
}

/// Changes the small club's file and gives the mistakes, as lines.
fn mistakes_after(from: &str, to: &str) -> Vec<String> {
    assert!(SMALL.contains(from), "the small club has no {from:?}");
    match parse(&SMALL.replacen(from, to, 1)) {
        Ok(_) => Vec::new(),
        Err(mistakes) => mistakes.0.iter().map(ToString::to_string).collect(),
    }
}

#[track_caller]
fn check(from: &str, to: &str, expected: &str) {
    assert_eq!(mistakes_after(from, to), [expected]);
}

#[test]
fn a_syntax_error_is_one_mistake_with_its_place() {
    let mistakes = mistakes_after("lon = -15.5 }", "lon = -15.5");
    assert_eq!(mistakes.len(), 1, "{mistakes:?}");
    assert!(mistakes[0].starts_with("line 6, column "), "{mistakes:?}");
    let twice = mistakes_after("id = \"tern\"", "id = \"tern\"\nid = \"tern\"");
    assert_eq!(twice.len(), 1, "{twice:?}");
    assert!(
        twice[0].starts_with("line 9, column 1: the file: found id, expected TOML (duplicate key"),
        "{twice:?}"
    );
}

#[test]
fn a_file_over_a_mebibyte_is_not_read() {
    let text = "#".repeat(FILE_AT_MOST + 1);
    let mistakes = parse(&text).expect_err("it is too large");
    assert_eq!(
        mistakes.to_string(),
        "line 1, column 1: the file: found 1048577 bytes, expected at most 1048576"
    );
}

#[test]
fn bytes_that_are_no_text_are_one_mistake_where_they_begin() {
    let mistakes = parse_bytes(b"[club]\nname = \"\xff\"\n", None).expect_err("it is no text");
    assert_eq!(
        mistakes.to_string(),
        "line 2, column 9: the file: found bytes that are no text, expected text in UTF-8"
    );
    assert!(parse_bytes(SMALL.as_bytes(), None).is_ok());
}

#[test]
fn texts_are_short_and_cannot_command_a_terminal() {
    let long = format!("name = \"{}\"", "x".repeat(201));
    check(
        "name = \"Tern\"",
        &long,
        "line 9, column 8: boats[0].name: found a text of 201 characters, expected at most 200",
    );
    check(
        "name = \"Tern\"",
        "name = \"Te\\u001B[2Jrn\"",
        "line 9, column 8: boats[0].name: found \"Te\\u001B[2Jrn\", expected a text of one line without control characters",
    );
}

#[test]
fn numbers_are_numbers_and_within_what_can_be() {
    for number in [
        "nan",
        "inf",
        "-1",
        "99999999999999999999",
        "1e400",
        "\"14\"",
        "true",
    ] {
        let found = mistakes_after("mean_up_to_kn = 14", &format!("mean_up_to_kn = {number}"));
        assert_eq!(found.len(), 1, "{number}: {found:?}");
        assert!(
            found[0].contains("expected a number from 1 to 100") || found[0].contains("TOML"),
            "{found:?}"
        );
    }
    assert!(
        mistakes_after("mean_up_to_kn = 14", "mean_up_to_kn = 1_4.0").is_empty(),
        "TOML's own ways of writing 14"
    );
    assert!(mistakes_after("mean_up_to_kn = 14", "mean_up_to_kn = 0xE").is_empty());
}

#[test]
fn there_are_bounds_on_how_much_one_club_holds() {
    let entry = |kind: &str, index: usize| match kind {
        "venues" => {
            format!("[[venues]]\nid = \"v{index}\"\nname = \"V\"\npoints = [{{ lat = 1, lon = 1 }}]\n")
        }
        "boats" => format!(
            "[[boats]]\nid = \"b{index}\"\nname = \"B\"\nreef_table = \
             [{{ mean_up_to_kn = 9, gust_up_to_kn = 9, reefs = 0, headsail = 1 }}]\n"
        ),
        "levels" => format!(
            "[[levels]]\nid = \"l{index}\"\nname = \"L\"\nlimits = {{ mean_kn = {{ caution_at = 5, stop_at = 6 }} }}\n"
        ),
        _ => format!(
            "[[sessions]]\nid = \"s{index}\"\nvenue = \"roadstead\"\nboat = \"tern\"\nlevel = \"crew\"\n\
             starts = \"2030-05-14T10:00\"\nlasts_min = 60\n"
        ),
    };
    for (kind, there, most) in [
        ("venues", 1, 50),
        ("boats", 1, 100),
        ("levels", 2, 50),
        ("sessions", 1, 1000),
    ] {
        let with = |total: usize| {
            let more: String = (there..total).map(|index| entry(kind, index)).collect();
            parse(&format!("{SMALL}\n{more}"))
        };
        assert!(with(most).is_ok(), "{most} {kind} are allowed");
        let error = with(most + 1).expect_err("one more is not").to_string();
        assert!(
            error.contains(&format!(
                "{kind}: found {} entries, expected at most {most}",
                most + 1
            )),
            "{error}"
        );
    }
}

#[test]
fn a_session_ends_after_it_starts_and_says_so_once() {
    let ends = "ends = \"13:00\"";
    let line = "line 29, column 8: sessions[0].ends: found";
    check(
        ends,
        "ends = \"10:00\"",
        &format!("{line} \"10:00\", expected after 2030-05-14 10:00, when it starts"),
    );
    check(
        ends,
        "ends = \"2030-05-15T10:01\"",
        &format!("{line} \"2030-05-15T10:01\", expected at most 24 hours after it starts"),
    );
    check(
        ends,
        "",
        "line 23, column 1: sessions[0].ends: found nothing, expected when she is alongside, such as \"13:00\", or lasts_min",
    );
    check(
        ends,
        "ends = \"13:00\"\nlasts_min = 180",
        "line 30, column 13: sessions[0].lasts_min: found both ends and lasts_min, expected one of them",
    );
    assert!(mistakes_after(ends, "ends = \"2030-05-14T13:00\"").is_empty());
    assert!(
        mistakes_after(ends, "ends = 13:00").is_empty(),
        "TOML's own local time"
    );
}

#[test]
fn an_instant_with_an_offset_is_no_wall_time() {
    for instant in [
        "2030-05-14T10:00:00Z",
        "\"2030-05-14T10:00:00Z\"",
        "\"2030-02-30T10:00\"",
        "\"0030-05-14T10:00\"",
    ] {
        let found = mistakes_after("\"2030-05-14T10:00\"", instant);
        assert_eq!(found.len(), 1, "{instant}: {found:?}");
        assert!(
            found[0].contains("expected a date and time of the club's clocks"),
            "{found:?}"
        );
    }
}

#[test]
fn a_reef_table_that_ends_below_a_levels_limits_is_a_warning() {
    let text = SMALL.replace(
        "mean_up_to_kn = 25, gust_up_to_kn = 32",
        "mean_up_to_kn = 23.5, gust_up_to_kn = 32",
    );
    let sailed_by_crew = text.replace("level = \"beginners\"", "level = \"crew\"");
    let warnings = parse(&sailed_by_crew).expect("it is possible").warnings;
    let expected = "line 13, column 21: boats[0].reef_table[2].mean_up_to_kn: found 23.5, where the table of \"Tern\" \
                    ends, expected at least 24, where level \"Crew\" stops (past the table she does not sail)";
    assert_eq!(
        warnings.iter().map(ToString::to_string).collect::<Vec<_>>(),
        [expected]
    );
    // Only pairs that sail together count; without sessions, any pair could.
    assert!(parse(&text).expect("it is possible").warnings.is_empty());
    let (without_sessions, _) = text.split_once("[[sessions]]").expect("it has sessions");
    assert_eq!(parse(without_sessions).expect("it is possible").warnings.len(), 1);
}

#[test]
fn a_level_without_wind_limits_is_a_warning() {
    let text = SMALL.replace(", gust_kn = { caution_at = 19, stop_at = 24 } }", " }");
    let warnings = parse(&text).expect("it is possible").warnings;
    assert_eq!(warnings.len(), 1, "{warnings:?}");
    assert_eq!(
        (warnings[0].line, warnings[0].key.as_str()),
        (15, "levels[0].limits")
    );
}

#[test]
fn a_file_of_nothing_but_mistakes_is_answered_with_a_thousand() {
    let text: String = (0..40_000)
        .map(|index| format!("unknown-{index} = 1\n"))
        .collect();
    assert_eq!(parse(&text).expect_err("every key is unknown").0.len(), 1000);
}
