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

use crate::kept::KeptTable;
use crate::shown::{Shown, in_order_of_leaving};
use crate::standing::SourceStanding;
use advisory::Decision;
use advisory::document::Advisory;
use chrono::{DateTime, Utc};
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

/// One session in full.
pub fn session(advisory: &Advisory, decisions: &[Decision], now: DateTime<Utc>, style: Style) -> String {
    session::text(Shown::at(advisory, now).beside(decisions), style)
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

/// How each source stands.
pub fn runs(standings: &[SourceStanding], now: DateTime<Utc>, style: Style) -> String {
    runs::text(standings, now, style)
}

/// What is kept for a place, a table for each source and point.
pub fn kept(venue: &str, tables: &[KeptTable], style: Style) -> String {
    kept::text(venue, tables, style)
}
