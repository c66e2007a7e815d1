//! Properties: what a reef table that exists always is, and that no file, however wrong, breaks the reading.
#![expect(clippy::expect_used, reason = "a test's helper that fails is a failed test")]

use club::{Headsail, ReefRow, ReefTable, parse};
use proptest::prelude::*;
use seaway::Knots;

const SMALL: &str = include_str!("../../../fixtures/club/small.toml");

/// The small club with another reef table and without sessions.
fn with_table(rows: &[(f64, f64, u8, f64)]) -> String {
    let rows: String = rows
        .iter()
        .map(|(mean, gust, reefs, headsail)| {
            format!("{{ mean_up_to_kn = {mean}, gust_up_to_kn = {gust}, reefs = {reefs}, headsail = {headsail} }},")
        })
        .collect();
    let (before, rest) = SMALL
        .split_once("reef_table = [")
        .expect("the small club has a table");
    let (_, after) = rest.split_once("\n]").expect("the table ends");
    format!("{before}reef_table = [{rows}]{after}")
}

/// Whether rows are a table, said another way than the reading says it.
fn is_monotone(rows: &[ReefRow]) -> bool {
    rows.windows(2).all(|pair| {
        pair[0].mean_up_to < pair[1].mean_up_to
            && pair[0].gust_up_to < pair[1].gust_up_to
            && pair[0].reefs <= pair[1].reefs
            && pair[0].headsail >= pair[1].headsail
    }) && rows.iter().all(|row| row.gust_up_to >= row.mean_up_to)
}

fn parsed_table(rows: &[(f64, f64, u8, f64)]) -> Option<ReefTable> {
    parse(&with_table(rows))
        .ok()
        .map(|parsed| parsed.club.boats[0].reef_table.clone())
}

/// Rows in any order: few values, so that tables, near-tables and ties all come up.
fn any_rows() -> impl Strategy<Value = Vec<(f64, f64, u8, f64)>> {
    let row = (1u8..8, 1u8..8, 0u8..4, 0u8..=4).prop_map(|(mean, gust, reefs, headsail)| {
        (
            f64::from(mean) * 4.5,
            f64::from(gust) * 5.5,
            reefs,
            f64::from(headsail) / 4.0,
        )
    });
    prop::collection::vec(row, 1..5)
}

/// Rows that rise, by steps.
fn rising_rows() -> impl Strategy<Value = Vec<(f64, f64, u8, f64)>> {
    let step = (0.5f64..6.0, 0.5f64..6.0, 0u8..2, 0.0f64..0.3);
    prop::collection::vec(step, 1..6).prop_map(|steps| {
        let mut row = (4.0, 6.0, 0, 1.0f64);
        steps
            .into_iter()
            .map(|(mean, gust, reefs, headsail)| {
                row = (
                    row.0 + mean,
                    row.1 + mean + gust,
                    row.2 + reefs,
                    (row.3 - headsail).max(0.0),
                );
                row
            })
            .collect()
    })
}

proptest! {
    #[test]
    fn a_table_parses_exactly_when_it_is_monotone(rows in any_rows()) {
        let wanted: Vec<ReefRow> = rows
            .iter()
            .map(|(mean, gust, reefs, headsail)| ReefRow {
                mean_up_to: Knots(*mean),
                gust_up_to: Knots(*gust),
                reefs: *reefs,
                headsail: Headsail(*headsail),
                note: None,
                foot_mark: None,
            })
            .collect();
        match parsed_table(&rows) {
            Some(table) => {
                prop_assert_eq!(table.rows(), &wanted[..]);
                prop_assert!(is_monotone(table.rows()));
            }
            None => prop_assert!(!is_monotone(&wanted)),
        }
    }

    #[test]
    fn the_row_for_a_wind_is_the_first_whose_two_limits_hold(
        rows in rising_rows(), mean in 0.0f64..45.0, extra in 0.0f64..20.0,
    ) {
        let table = parsed_table(&rows).expect("the rows rise");
        let (mean, gust) = (Knots(mean), Knots(mean + extra));
        let holds = |row: &ReefRow| mean.0 <= row.mean_up_to.0 && gust.0 <= row.gust_up_to.0;
        match table.row_for(mean, gust) {
            Some(index) => {
                prop_assert!(holds(&table.rows()[index]));
                prop_assert!(table.rows()[..index].iter().all(|row| !holds(row)));
            }
            None => prop_assert!(table.rows().iter().all(|row| !holds(row))),
        }
        // More wind never means less reefed.
        let fresher = table.row_for(Knots(mean.0 + 1.0), Knots(gust.0 + 1.0)).unwrap_or(usize::MAX);
        prop_assert!(table.row_for(mean, gust).unwrap_or(usize::MAX) <= fresher);
    }

    #[test]
    fn a_file_with_a_piece_replaced_is_read_or_refused_but_breaks_nothing(
        at in 0..SMALL.len(), length in 0usize..40, piece in "[ -~\n\u{e9}]{0,12}",
    ) {
        let text = format!("{}{piece}{}", &SMALL[..at], &SMALL[(at + length).min(SMALL.len())..]);
        if let Err(mistakes) = parse(&text) {
            prop_assert!(!mistakes.0.is_empty());
            let order: Vec<(u32, u32)> = mistakes.0.iter().map(|mistake| (mistake.line, mistake.column)).collect();
            prop_assert!(order.is_sorted(), "{}", mistakes);
            for mistake in &mistakes.0 {
                let line = text.split('\n').nth(mistake.line as usize - 1);
                prop_assert!(line.is_some_and(|line| mistake.column as usize <= line.chars().count() + 1), "{}", mistake);
            }
        }
    }

    #[test]
    fn any_rule_is_used_or_refused_but_breaks_nothing(
        freq in prop::sample::select(vec!["YEARLY", "MONTHLY", "WEEKLY", "DAILY", "SECONDLY"]),
        parts in prop::collection::vec((
            prop::sample::select(vec![
                "UNTIL", "COUNT", "INTERVAL", "BYDAY", "BYMONTHDAY", "BYYEARDAY", "BYWEEKNO", "BYMONTH", "BYSETPOS", "BYHOUR",
                "WKST",
            ]),
            prop::sample::select(vec![
                "1", "-1", "0", "31", "-366", "53", "65535", "70000", "MO", "SU,TU", "-1FR", "53WE", "20310101T000000Z",
                "99991231T235959", "1,2,3", "+2", ",", "-",
            ]),
        ), 0..4),
    ) {
        let rule: String = parts.iter().map(|(name, value)| format!(";{name}={value}")).collect();
        let text = SMALL.replace("FREQ=WEEKLY;BYDAY=TU", &format!("FREQ={freq}{rule}"));
        if let Ok(parsed) = parse(&text) {
            let from = "2030-05-01T00:00:00Z".parse().expect("it is an instant");
            let to = "2031-05-01T00:00:00Z".parse().expect("it is an instant");
            let found = club::occurrences(&parsed.club, from, to);
            prop_assert!(found.iter().all(|one| from <= one.leaves && one.leaves < to && one.leaves < one.alongside));
        }
    }
}
