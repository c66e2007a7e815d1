//! Terminal text: width, words, shapes, and what a pipe gets.
//!
//! No source unless named: these are the rules of the design texts (4-interfaces, look).

mod sample;

use advisory::openings::{DayLookedAt, Found};
use advisory::{Advisory, Opening, OpeningQuery};
use chrono::{DateTime, Utc};
use present::terminal::{self, COLUMNS, Style};
use sample::{GO, LIGHT, MARGINAL, NO_CALL, NO_GO, advisories, advisory, hostile, later, leg, lesson, now};
use unicode_width::UnicodeWidthStr;

fn board(advisories: &[Advisory], now: DateTime<Utc>, style: Style) -> String {
    terminal::board(advisories, &[], now, style)
}

fn session(advisory: &Advisory, now: DateTime<Utc>, style: Style) -> String {
    terminal::session(advisory, &[], None, now, style)
}

const PLAIN: Style = Style { colour: false };
const DRESSED: Style = Style { colour: true };

fn undressed(text: &str) -> String {
    text.replace("\u{1b}[1m", "")
        .replace("\u{1b}[1;35m", "")
        .replace("\u{1b}[0m", "")
}

#[test]
fn no_line_is_wider_than_eighty_columns() {
    let mut long = advisory(MARGINAL);
    long.session.boat.name = "A name of a boat that goes on and on 帆船".repeat(4);
    long.session.level.name = "Abcdefghij".repeat(30);
    long.reef_table[2].sail.words = "two reefs and a very small part of the headsail indeed".into();
    let mut many_rows = advisory(GO);
    let hour = many_rows.hours[3].clone();
    for more in 1..90 {
        let mut next = hour.clone();
        next.at += chrono::Duration::hours(i64::from(more) + 9);
        many_rows.hours.push(next);
    }
    let all: Vec<_> = advisories()
        .into_iter()
        .chain([long, many_rows, hostile()])
        .collect();
    let texts = all
        .iter()
        .flat_map(|one| [session(one, now(), PLAIN), session(one, later(), PLAIN)]);
    for text in texts.chain([board(&all, now(), PLAIN), board(&all, later(), PLAIN)]) {
        for line in text.lines() {
            assert!(line.width() <= COLUMNS, "{} columns: {line}", line.width());
            assert!(!line.ends_with(' '), "blanks at the end: {line:?}");
        }
    }
}

#[test]
fn colour_only_repeats_what_the_words_say() {
    for one in advisories() {
        let dressed = session(&one, now(), DRESSED);
        assert!(dressed.contains("\u{1b}[1m"));
        assert_eq!(undressed(&dressed), session(&one, now(), PLAIN));
    }
    let dressed = board(&advisories(), now(), DRESSED);
    assert_eq!(undressed(&dressed), board(&advisories(), now(), PLAIN));
    assert!(!board(&advisories(), now(), PLAIN).contains('\u{1b}'));
}

#[test]
fn the_first_lines_give_call_session_sentence_plan_and_way_out() {
    let text = session(&advisory(MARGINAL), now(), PLAIN);
    let start: Vec<&str> = text.lines().take(12).collect();
    assert_eq!(start[0], "|/|  Marginal");
    assert_eq!(
        start[1],
        "Dunlin, First days, Pellock Sound. Saturday 17 October, 09:30 to 17:00."
    );
    for line in [
        "Leave with  1 reef, ¾ headsail (foot mark 3 on the furler)",
        "From 15:00  2 reefs, ½ headsail",
        "Way out     Back by 14:15, then it is a go.",
    ] {
        assert!(start.contains(&line), "not in the first lines: {line}\n{text}");
    }
}

#[test]
fn lessons_are_listed_where_the_boat_may_leave_and_those_for_light_air_apart() {
    let taught = |index| {
        let mut one = advisory(index);
        one.lessons = vec![
            lesson("Reefing under way", false),
            lesson("Drifting quietly", true),
        ];
        one
    };
    for index in [MARGINAL, GO, LIGHT] {
        let text = session(&taught(index), now(), PLAIN);
        let lists = "\n\nLessons these hours suit\n  09:30 to 10:00 Reefing under way.\n\nFor the light air\n  09:30 to 10:00 Drifting quietly.\n";
        assert!(text.contains(lists), "{text}");
    }
    let without = [(NO_GO, now()), (NO_CALL, now()), (GO, later())];
    for text in without.map(|(index, at)| session(&taught(index), at, PLAIN)) {
        assert!(!text.contains("Reefing under way") && !text.contains("Drifting quietly"));
    }
    let text = session(&advisory(GO), now(), PLAIN);
    assert!(!text.contains("Lessons") && !text.contains("Legs"), "{text}");
}

#[test]
fn legs_are_listed_with_their_hours() {
    let mut one = advisory(GO);
    one.legs = vec![leg(one.session.leaves)];
    let text = session(&one, now(), PLAIN);
    let start = format!(
        "\n\nLegs\n  {}          Course 225, 6 nm: run, ",
        one.session.leaves.format("%H:%M")
    );
    assert!(text.contains(&start), "{text}");
}

#[test]
fn each_call_has_its_word_and_its_shape() {
    for (index, first) in [
        (MARGINAL, "|/|  Marginal"),
        (GO, "|^|  Go"),
        (NO_GO, "|=|  No-go"),
        (LIGHT, "|^|  Go, light"),
        (NO_CALL, ": :  No call"),
    ] {
        assert_eq!(
            session(&advisory(index), now(), PLAIN).lines().next(),
            Some(first)
        );
    }
}

#[test]
fn the_chart_puts_each_hour_in_the_band_the_document_names() {
    let one = advisory(MARGINAL);
    let text = session(&one, now(), PLAIN);
    let start = text.find("Wind over Dunlin's reef table").unwrap();
    let chart: Vec<&str> = text[start..].lines().skip(1).collect();
    // Bands from the top: past the table, then the rows from the most reefed one; two lines each, a rule between.
    for (column, hour) in one.hours.iter().enumerate() {
        let at = 26 + 4 * column + 2;
        let highest = chart
            .iter()
            .take(13)
            .position(|line| matches!(line.chars().nth(at), Some('m' | 'G' | '=')))
            .unwrap();
        let row = hour.row.unwrap();
        assert_eq!(3 - (highest - 2) / 3, row, "{}: line {highest}", hour.at);
    }
}

#[test]
fn missing_values_are_words_and_question_marks() {
    let text = session(&advisory(NO_CALL), now(), PLAIN);
    assert!(text.contains("? missing") && text.contains("no spread known"));
    let hour = text.lines().find(|line| line.starts_with("* 13:00")).unwrap();
    assert!(hour.contains("missing") && hour.contains("not known"), "{hour}");
    assert!(text.contains("What is not known") && text.contains("damaged message"));
    assert!(!session(&advisory(GO), now(), PLAIN).contains('?'));
}

#[test]
fn after_valid_until_the_terminal_says_so() {
    for one in advisories() {
        let text = session(&one, later(), PLAIN);
        assert!(text.starts_with(": :  Old: no call\n"));
        assert!(!text.contains("Leave with") && !text.contains("Way out"));
    }
    let text = board(&advisories(), later(), PLAIN);
    assert_eq!(text.matches("Old: no call").count(), advisories().len());
    for words in ["Leave with", "Way out", "|^|", "|/|", "(likely)"] {
        assert!(!text.contains(words), "an old board still says {words}");
    }
}

#[test]
fn every_text_carries_the_caution_warnings_and_validity() {
    let sessions = advisories().into_iter().map(|one| session(&one, now(), PLAIN));
    for text in sessions.chain([board(&advisories(), now(), PLAIN)]) {
        let text = text.replace('\n', " ");
        for words in [
            "The skipper on the water decides",
            "warnings were not checked",
            "valid until",
        ] {
            assert!(text.contains(words), "lacks {words}: {text}");
        }
    }
}

#[test]
fn a_name_cannot_steer_the_terminal() {
    let one = hostile();
    for text in [
        session(&one, now(), PLAIN),
        board(std::slice::from_ref(&one), now(), PLAIN),
    ] {
        assert!(!text.contains('\u{1b}'), "an escape sign came through");
    }
    assert!(
        undressed(&session(&one, now(), DRESSED))
            .chars()
            .all(|sign| sign == '\n' || !sign.is_control())
    );
}

#[test]
fn an_empty_board_says_that_it_is_empty() {
    assert!(board(&[], now(), PLAIN).contains("No session is on the board"));
}

fn opening_of(one: &Advisory) -> Opening {
    Opening {
        from: one.session.leaves,
        to: one.session.alongside,
        call: one.call,
        holds: Some(0.9),
        leave_with: one.plan.as_ref().map(|plan| plan.leave_with.clone()),
        source: "gefs".into(),
        run: None,
    }
}

#[test]
fn openings_stand_before_the_cautions_and_the_disclaimers_end_the_text() {
    let one = advisory(NO_GO);
    let told = |openings: Option<&[Opening]>| terminal::session(&one, &[], openings, now(), PLAIN);
    let text = told(Some(&[opening_of(&advisory(GO))]));
    let at = |words: &str| text.find(words).unwrap_or_else(|| panic!("{words}:\n{text}"));
    assert!(at("Openings instead") < at("\nWhy"), "{text}");
    assert!(
        at("90 % of members hold throughout") < at("Forecast runs"),
        "{text}"
    );
    assert!(
        text.trim_end()
            .ends_with(one.caution_to_all.rsplit(' ').next().unwrap()),
        "{text}"
    );
    assert!(told(Some(&[])).contains("None as long as the session"));
    assert!(!told(None).contains("Openings"));
}

#[test]
fn windows_say_their_runs_what_is_not_known_and_whose_word_counts_within_eighty_columns() {
    let text = include_str!("../../../fixtures/club/small.toml");
    let mut club = club::parse(text).unwrap().club;
    club.boats[0].name = "A name of a boat that goes on and on 帆船\u{1b}[2J".repeat(3);
    let query = OpeningQuery {
        venue: &club.venues[0],
        boat: &club.boats[0],
        level: &club.levels[0],
        marginal_too: true,
        at_least: chrono::TimeDelta::minutes(150),
        days: 2,
    };
    let day = |by| DayLookedAt {
        date: now().date_naive(),
        by,
    };
    let found = Found {
        openings: vec![opening_of(&advisory(MARGINAL))],
        days: vec![day(Some(("gefs".to_owned(), now()))), day(None)],
    };
    let credit = ["Ensemble data: NOAA/NCEP GEFS.".to_owned()];
    let text = terminal::windows(&club, &query, &found, &credit, PLAIN);
    for needed in [
        "at least 2 h 30 min",
        "|/| Marginal",
        "leave with 1 reef, ¾ headsail",
        "90 % of members",
        "Wind from gefs, run of Sat 17 Oct 05:40 UTC.",
        "Nothing can be said of Sat 17 Oct",
        "Ensemble data: NOAA/NCEP GEFS.",
        "warnings were not checked",
        "The skipper on the water decides",
    ] {
        assert!(text.replace('\n', " ").contains(needed), "{needed}:\n{text}");
    }
    assert!(
        text.lines().all(|line| line.width() <= COLUMNS) && !text.contains('\u{1b}'),
        "{text}"
    );
    let none = terminal::windows(&club, &query, &Found::default(), &[], PLAIN);
    assert!(none.contains("None in the days"), "{none}");
}

#[test]
fn the_board_names_runs_and_what_their_producers_ask_for_once() {
    let text = board(&advisories(), now(), PLAIN).replace('\n', " ");
    assert_eq!(text.matches("Forecast runs: ").count(), 1, "{text}");
    let used = advisories().swap_remove(GO).sources;
    for used in used.iter().filter(|used| used.run.is_some()) {
        assert!(text.contains(used.source.as_str()));
        assert_eq!(
            text.matches(used.attribution.trim_end_matches('.')).count(),
            1,
            "{text}"
        );
    }
}
