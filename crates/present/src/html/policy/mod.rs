//! The page that says how the club decides: the club's file in plain sentences.
//!
//! Owns: the order of the page. Each part of the file has its own room: the call, boats, levels, venues, numbers of judgement.
//! It shows limits and compares nothing with them.

mod call;
mod levels;
mod numbers;
mod venues;

use super::elsewhere::Around;
use super::foot::{Foot, foot_without_advisory};
use super::nav::{NavLink, nav};
use crate::sail_glyph::sail_glyph;
use advisory::document::Sail;
use advisory::words::sail;
use askama::Template;
use club::{Boat, Club, ReefRow, TableWind};
use levels::LevelWords;

/// The page.
#[derive(Template)]
#[template(path = "policy.html")]
pub(super) struct PolicyPage<'a> {
    club: &'a str,
    demo: Option<&'a str>,
    nav: Vec<NavLink>,
    version: String,
    call: Vec<String>,
    boats: Vec<BoatWords>,
    levels: Vec<LevelWords>,
    venues: Vec<(String, Vec<String>)>,
    parts: Vec<(&'static str, Vec<String>)>,
    mail: bool,
    foot: Foot,
}

/// A boat with her table.
struct BoatWords {
    name: String,
    rows: Vec<RowWords>,
    lines: Vec<String>,
}

/// A row of it.
struct RowWords {
    mean: String,
    gust: String,
    glyph: String,
    words: String,
    notes: Vec<String>,
}

/// Digits of the file's hash that are shown.
const VERSION_DIGITS: usize = 12;

/// Fills the page.
pub(super) fn page<'a>(club: &'a Club, around: Around<'a>) -> PolicyPage<'a> {
    let policy = &club.policy;
    PolicyPage {
        club: &club.name,
        demo: around.demo,
        nav: nav("/how-we-decide"),
        version: club.version.chars().take(VERSION_DIGITS).collect(),
        call: call::lines(club),
        boats: club.boats.iter().map(boat).collect(),
        levels: club
            .levels
            .iter()
            .map(|level| levels::words(level, policy))
            .collect(),
        venues: club
            .venues
            .iter()
            .map(|venue| (venue.name.clone(), venues::lines(venue, club.time_zone)))
            .collect(),
        parts: numbers::parts(policy),
        mail: around.mail,
        foot: foot_without_advisory(club, Vec::new()),
    }
}

fn boat(boat: &Boat) -> BoatWords {
    let rows = boat.reef_table.rows();
    let mut lines = vec![
        "The first row whose two winds both hold is hers; past the last row she does not sail.".to_owned(),
        table_wind(boat.table_wind),
    ];
    lines.push(format!(
        "She sails no closer than {}° to the true wind.",
        boat.closest_deg
    ));
    BoatWords {
        name: boat.name.clone(),
        rows: rows
            .iter()
            .enumerate()
            .map(|(index, row)| row_words(index, row))
            .collect(),
        lines,
    }
}

fn table_wind(wind: TableWind) -> String {
    match wind {
        TableWind::True => "Her table speaks of the true wind at 10 m, as forecasts give it.".to_owned(),
        TableWind::ApparentAtMasthead { height, boat_speed } => format!(
            "Her table speaks of the apparent wind at the masthead, {} m up, close hauled at {} kn.",
            height.0, boat_speed.0
        ),
    }
}

fn row_words(index: usize, row: &ReefRow) -> RowWords {
    let words = sail(row.reefs, row.headsail.0);
    let drawn = Sail {
        row: index,
        reefs: row.reefs,
        headsail: row.headsail.0,
        words: words.clone(),
        note: None,
    };
    let mark = row
        .foot_mark
        .as_ref()
        .map(|mark| format!("headsail to the mark: {mark}"));
    RowWords {
        mean: row.mean_up_to.0.to_string(),
        gust: row.gust_up_to.0.to_string(),
        glyph: sail_glyph(&drawn, ""),
        words,
        notes: mark.into_iter().chain(row.note.clone()).collect(),
    }
}
