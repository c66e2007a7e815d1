//! The hours in figures: the table under "The same in figures". A missing value says so in a word.

use crate::wording::{clock, direction, metres, tenth};
use advisory::document::{Advisory, Hour};

/// A table: headings, and rows of an hour with its cells.
pub(super) struct Figures {
    pub headings: [&'static str; 9],
    pub rows: Vec<(String, [String; 8])>,
}

/// The table of an advisory.
pub(super) fn figures(advisory: &Advisory) -> Figures {
    Figures {
        headings: [
            "Hour",
            "Mean, kn",
            "Gust, kn",
            "Mean, 8 in 10",
            "Gust, 8 in 10",
            "From, true",
            "Force",
            "Sea, m",
            "Row",
        ],
        rows: advisory.hours.iter().map(|hour| row(advisory, hour)).collect(),
    }
}

fn row(advisory: &Advisory, hour: &Hour) -> (String, [String; 8]) {
    let number = |value: Option<f64>| value.map_or_else(missing, tenth);
    let spread = |spread: Option<(f64, f64)>| {
        spread.map_or_else(
            || "not known".to_owned(),
            |(low, high)| format!("{} to {}", tenth(low), tenth(high)),
        )
    };
    let estimated = if hour.gust_estimated && hour.gust_kn.is_some() {
        " estimated"
    } else {
        ""
    };
    let cells = [
        number(hour.mean_kn),
        format!("{}{estimated}", number(hour.gust_kn)),
        spread(hour.mean_spread_kn),
        spread(hour.gust_spread_kn),
        hour.from_deg.map_or_else(missing, direction),
        hour.force.map_or_else(missing, |force| force.to_string()),
        hour.wave_m.map_or_else(missing, metres),
        row_words(advisory, hour),
    ];
    (clock(hour.at), cells)
}

fn missing() -> String {
    "missing".to_owned()
}

/// What the table says for an hour: the words of its row, past the table, or not known.
pub(crate) fn row_words(advisory: &Advisory, hour: &Hour) -> String {
    match hour.row.and_then(|row| advisory.reef_table.get(row)) {
        Some(row) => row.sail.words.clone(),
        None if hour.past_table => "past the table".to_owned(),
        None => "not known".to_owned(),
    }
}
