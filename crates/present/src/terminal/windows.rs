//! The openings of the coming days in the terminal, two lines each; and those told in place of a session that cannot go.

use super::Style;
use super::sheet::{Dress, Sheet, shape};
use crate::wording::{day_short, ended, from_to, run_time};
use advisory::openings::{DayLookedAt, Found};
use advisory::words::{duration, per_cent};
use advisory::{Opening, OpeningQuery};
use club::Club;

/// What was looked for and what was found.
pub(super) fn text(
    club: &Club,
    query: &OpeningQuery<'_>,
    found: &Found,
    attributions: &[String],
    style: Style,
) -> String {
    let mut sheet = Sheet::new(style);
    let wanted = if query.marginal_too {
        "go or marginal"
    } else {
        "go"
    };
    let length = duration(query.at_least.num_minutes() as f64);
    let names = format!("{}, {}, {}", query.boat.name, query.level.name, query.venue.name);
    sheet.words(0, &format!("Openings for {names}: at least {length}, {wanted}"));
    sheet.empty();
    if found.openings.is_empty() {
        sheet.words(0, "None in the days the forecast reaches.");
    }
    found
        .openings
        .iter()
        .for_each(|opening| lines(&mut sheet, opening));
    sheet.empty();
    for line in winds(&found.days) {
        sheet.words(0, &line);
    }
    attributions
        .iter()
        .for_each(|words| sheet.words(0, &ended(words)));
    sheet.words(0, "Nothing is issued by looking. Times are the club's.");
    sheet.words(0, &advisory::make::warnings(club));
    sheet.words(0, advisory::make::CAUTION_TO_ALL);
    sheet.finish()
}

/// Under a session that cannot go: the surest of them.
pub(super) fn instead(sheet: &mut Sheet, openings: &[Opening]) {
    sheet.heading("Openings instead, the surest first");
    if openings.is_empty() {
        sheet.words(2, "None as long as the session in the days the forecast reaches.");
    }
    openings.iter().for_each(|opening| lines(sheet, opening));
}

fn lines(sheet: &mut Sheet, opening: &Opening) {
    let call = format!("  {} {:<9}", shape(opening.call), opening.call.words());
    let when = format!(
        "{}  {}",
        day_short(opening.from),
        from_to(opening.from, opening.to)
    );
    sheet.hanging(&call, Some(Dress::Bold), &when);
    let sail = opening
        .leave_with
        .as_ref()
        .map_or("past the table on leaving".to_owned(), |sail| {
            format!("leave with {}", sail.words)
        });
    let holds = opening.holds.map_or_else(
        || "one run alone".to_owned(),
        |share| format!("{} of members hold throughout", per_cent(share)),
    );
    sheet.words(call.len(), &format!("{sail}; {holds}"));
}

/// The runs that the days were looked at by, each once; and the days of which nothing can be said.
fn winds(days: &[DayLookedAt]) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for (source, run) in days.iter().filter_map(|day| day.by.as_ref()) {
        let line = format!("Wind from {source}, run of {}.", run_time(*run));
        if !lines.contains(&line) {
            lines.push(line);
        }
    }
    let unknown = days.iter().filter(|day| day.by.is_none());
    let unknown: Vec<String> = unknown
        .map(|day| day.date.format("%a %-d %b").to_string())
        .collect();
    if !unknown.is_empty() {
        let days = unknown.join(", ");
        lines.push(format!(
            "Nothing can be said of {days}: no run that is not too old tells the wind."
        ));
    }
    lines
}
