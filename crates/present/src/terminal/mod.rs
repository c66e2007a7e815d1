//! Terminal text: the board in a few lines a session, and one session in full. At most 80 columns.
//!
//! Colour and bold only repeat what words and shapes say, so that a pipe loses nothing.

mod board;
mod chart;
mod hours;
mod kept;
mod runs;
mod session;
mod sheet;
mod windows;

use crate::kept::KeptTable;
use crate::shown::{Shown, in_order_of_leaving};
use crate::standing::SourceStanding;
use advisory::document::Advisory;
use advisory::openings::Found;
use advisory::{Decision, Opening, OpeningQuery};
use chrono::{DateTime, Utc};
use club::Club;
use unicode_width::UnicodeWidthStr;

/// How text may be dressed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Style {
    /// ANSI bold and colour; without it the text is plain, as for a pipe.
    pub colour: bool,
}

/// Widest line, in columns.
pub const COLUMNS: usize = 80;

/// The board: the sessions in order of leaving, grouped by day.
pub fn board(advisories: &[Advisory], decisions: &[Decision], now: DateTime<Utc>, style: Style) -> String {
    board::text(&in_order_of_leaving(advisories, decisions, now), style)
}

/// One session in full; with `instead`, the openings to tell in its place.
pub fn session(
    advisory: &Advisory,
    decisions: &[Decision],
    instead: Option<&[Opening]>,
    now: DateTime<Utc>,
    style: Style,
) -> String {
    session::text(Shown::at(advisory, now).beside(decisions), instead, style)
}

/// The openings of the coming days, and what the producers of their forecasts ask to be said.
pub fn windows(
    club: &Club,
    query: &OpeningQuery<'_>,
    found: &Found,
    attributions: &[String],
    style: Style,
) -> String {
    windows::text(club, query, found, attributions, style)
}

/// One paragraph, its lines after the first under the first line's words.
pub fn paragraph(head: &str, words: &str) -> String {
    let mut sheet = sheet::Sheet::new(Style::default());
    sheet.hanging(head, None, words);
    sheet.finish()
}

/// Text whose lines are no wider than the terminal: a wide one goes on under its own indent, the others stay as they are.
pub fn folded(text: &str) -> String {
    let mut folded = String::with_capacity(text.len());
    for line in text.split_inclusive('\n') {
        let words = line.trim_end();
        if words.width() <= COLUMNS {
            folded.push_str(line);
        } else {
            let indent = &words[..words.len() - words.trim_start().len()];
            folded.push_str(&paragraph(indent, words));
        }
    }
    folded
}

/// How each source stands. `credit` says of a source its licence and the sentence that asks for.
pub fn runs(
    standings: &[SourceStanding],
    credit: &dyn Fn(&str) -> Option<String>,
    now: DateTime<Utc>,
    style: Style,
) -> String {
    runs::text(standings, credit, now, style)
}

/// What is kept for a place, a table for each source and point.
pub fn kept(venue: &str, tables: &[KeptTable], style: Style) -> String {
    kept::text(venue, tables, style)
}
