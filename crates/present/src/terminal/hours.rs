//! The hours in figures. A missing value says "missing", never a dash or a nought.

use super::sheet::{Sheet, fitted};
use crate::html::figures::row_words;
use crate::wording::{clock, direction, metres, tenth};
use advisory::document::{Advisory, Hour};

/// The table; the hours at sea are marked.
pub(super) fn table(sheet: &mut Sheet, advisory: &Advisory) {
    sheet.heading("Hour by hour");
    sheet.line(
        "  hour    mean kn  gust kn   from      force    sea m    row of her table",
        None,
    );
    for hour in &advisory.hours {
        sheet.line(&row(advisory, hour), None);
    }
    if advisory.hours.iter().any(|hour| hour.out) {
        sheet.line("* out", None);
    }
}

fn row(advisory: &Advisory, hour: &Hour) -> String {
    let missing = || "missing".to_owned();
    let estimated = if hour.gust_estimated && hour.gust_kn.is_some() {
        " est."
    } else {
        ""
    };
    let cells = [
        (clock(hour.at), 8),
        (hour.mean_kn.map_or_else(missing, tenth), 9),
        (
            format!("{}{estimated}", hour.gust_kn.map_or_else(missing, tenth)),
            10,
        ),
        (hour.from_deg.map_or_else(missing, direction), 10),
        (hour.force.map_or_else(missing, |force| force.to_string()), 9),
        (hour.wave_m.map_or_else(missing, metres), 9),
        (row_words(advisory, hour), 23),
    ];
    let out = if hour.out { "* " } else { "  " };
    cells.iter().fold(out.to_owned(), |line, (cell, columns)| {
        line + &fitted(cell, *columns)
    })
}
