//! What is kept for a place: a table for each source and point. A missing value says "missing", never a dash or a nought.

use super::Style;
use super::sheet::{Dress, Sheet, fitted};
use crate::kept::{KeptCell, KeptTable};
use crate::wording::run_time;
use chrono::{DateTime, Utc};
use std::collections::BTreeSet;

/// Columns of a line of figures: that of the hour, then so many quantities.
const HOUR_COLUMNS: usize = 14;
const QUANTITY_COLUMNS: usize = 16;
const QUANTITIES_A_LINE: usize = 4;

/// The tables.
pub(super) fn text(venue: &str, tables: &[KeptTable], style: Style) -> String {
    let mut sheet = Sheet::new(style);
    sheet.line(
        &format!("What is kept for {venue}; hours in UTC"),
        Some(Dress::Bold),
    );
    if tables.is_empty() {
        sheet.words(0, "Nothing is kept for this place.");
    }
    for table in tables {
        one(&mut sheet, table);
    }
    sheet.finish()
}

fn one(sheet: &mut Sheet, table: &KeptTable) {
    let members = if table.members > 1 {
        format!(", {} members, least to most", table.members)
    } else {
        String::new()
    };
    sheet.heading(&format!(
        "{}, run of {}{members}",
        table.source,
        run_time(table.run)
    ));
    let nodes = if table.nodes.is_empty() {
        "no node around it is kept".to_owned()
    } else {
        table.nodes.join("; ")
    };
    sheet.words(0, &format!("{}: between {nodes}", table.point));
    for first in (0..table.columns.len()).step_by(QUANTITIES_A_LINE) {
        block(sheet, table, first);
    }
    footnotes(sheet, table);
}

fn block(sheet: &mut Sheet, table: &KeptTable, first: usize) {
    sheet.empty();
    let end = (first + QUANTITIES_A_LINE).min(table.columns.len());
    let columns = &table.columns[first..end];
    sheet.line(&row("", columns.iter().map(|(name, _)| shortened(name))), None);
    sheet.line(
        &row(
            "",
            columns
                .iter()
                .map(|(_, unit)| unit.replace("degrees true, from", "deg. true, from")),
        ),
        None,
    );
    for (hour, cells) in &table.rows {
        let words = cells.iter().skip(first).take(columns.len()).map(cell);
        sheet.line(&row(&hour_words(*hour), words), None);
    }
}

fn row(head: &str, cells: impl Iterator<Item = String>) -> String {
    let cells = cells.map(|cell| fitted(&cell, QUANTITY_COLUMNS));
    format!("{}{}", fitted(head, HOUR_COLUMNS), cells.collect::<String>())
}

fn footnotes(sheet: &mut Sheet, table: &KeptTable) {
    let cells = || table.rows.iter().flat_map(|(_, cells)| cells);
    let reasons: BTreeSet<&String> = cells().flat_map(|cell| &cell.missing).collect();
    if !reasons.is_empty() {
        let reasons: Vec<&str> = reasons.into_iter().map(String::as_str).collect();
        sheet.words(0, &format!("missing: {}", reasons.join("; ")));
    }
    if cells().any(|cell| cell.values.is_some() && !cell.missing.is_empty()) {
        sheet.words(0, "* some members have no value here");
    }
}

fn cell(cell: &KeptCell) -> String {
    let part = if cell.missing.is_empty() { "" } else { "*" };
    match cell.values {
        Some((least, most)) if least == most => format!("{}{part}", number(least)),
        Some((least, most)) => format!("{}..{}{part}", number(least), number(most)),
        None if cell.due => "missing".to_owned(),
        None => "not given".to_owned(),
    }
}

/// As many decimals as matter: a pressure in pascals has none, a wind in metres per second has one.
fn number(value: f64) -> String {
    let text = if value.abs() >= 1000.0 {
        format!("{value:.0}")
    } else {
        format!("{value:.1}")
    };
    // What is rounded to nought has no sign.
    text.strip_prefix('-')
        .filter(|rest| rest.chars().all(|sign| matches!(sign, '0' | '.')))
        .map_or(text.clone(), str::to_owned)
}

fn hour_words(hour: DateTime<Utc>) -> String {
    hour.format("%a %-d %H:%M").to_string()
}

fn shortened(name: &str) -> String {
    name.replace("surface-temperature", "surface-temp.")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_missing_value_is_never_a_number_and_lines_stay_within_the_columns() {
        let known = |least, most, missing: &[&str]| KeptCell {
            values: Some((least, most)),
            missing: missing.iter().map(|words| (*words).to_owned()).collect(),
            due: true,
        };
        let missing = KeptCell {
            values: None,
            missing: vec!["damaged message".into()],
            due: true,
        };
        let names = [
            "wind-u",
            "pressure",
            "surface-temperature",
            "wave-direction",
            "gust",
            "cape",
        ];
        let table = KeptTable {
            source: "gefs".into(),
            run: "2030-05-13T00:00:00Z".parse().unwrap(),
            members: 31,
            point: "Outer Bank".into(),
            nodes: vec!["43.50 N 15.50 W (4.2 nm)".into(); 4],
            columns: names
                .iter()
                .map(|name| ((*name).to_owned(), "degrees true, from".to_owned()))
                .collect(),
            rows: vec![(
                "2030-05-13T15:00:00Z".parse().unwrap(),
                vec![
                    known(-12.34, 5.0, &["not published or not fetched"]),
                    known(101_325.4, 101_325.4, &[]),
                    missing.clone(),
                    KeptCell::default(),
                    known(-0.01, -0.01, &[]),
                    missing,
                ],
            )],
        };
        let text = text("Vanter Roads", &[table], Style::default());
        for needed in [
            "-12.3..5.0*",
            "101325",
            "missing",
            "not given",
            "missing: damaged message; not published or not fetched",
            "* some members",
            "43.50 N 15.50 W (4.2 nm)",
            " 0.0",
        ] {
            assert!(text.contains(needed), "{needed}:\n{text}");
        }
        assert!(!text.contains("-0.0"), "{text}");
        assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
    }
}
