//! From the file's text to a valid club, or to every mistake at once.
//!
//! Owns: the order of reading, bounds on the whole, what needs several parts of the file. Must not know: TOML values,
//! which the rooms under `read` take apart.

use crate::mistake::{Mistake, Mistakes, line_and_column, quoted};
use crate::model::{Boat, Club, Level, Limit, Quantity, SessionRule, TableWind};
use crate::read::boats::{TableEnd, read_boat};
use crate::read::club_table::read_club;
use crate::read::levels::read_level;
use crate::read::policy::read_policy;
use crate::read::sessions::{Known, read_session};
use crate::read::venues::{PointPlace, read_venue};
use crate::read::{Page, Table, entries, keys_in};
use seaway::{Knots, LatLon};
use sha2::{Digest, Sha256};
use std::collections::BTreeSet;
use toml::de::DeTable;

/// Largest club file, bytes.
pub const FILE_AT_MOST: usize = 1 << 20;
const VENUES_AT_MOST: usize = 50;
const BOATS_AT_MOST: usize = 100;
const LEVELS_AT_MOST: usize = 50;
const SESSIONS_AT_MOST: usize = 1000;

/// A valid club, and what is odd about its file.
#[derive(Clone, Debug)]
pub struct Parsed {
    /// The club.
    pub club: Club,
    /// What is possible but probably not meant, in the order of the file.
    pub warnings: Vec<Mistake>,
}

/// The area a forecast covers, for venues that lie off it.
pub struct Coverage<'c> {
    /// In words, for example `46 N to 41 N, 18 W to 13 W`.
    pub area: &'c str,
    /// Whether a point lies in it.
    pub covers: &'c (dyn Fn(LatLon) -> bool + Sync),
}

/// Reads a club file.
///
/// # Errors
/// Every mistake of the file at once, in its order. A file that is not TOML has one mistake.
pub fn parse(text: &str) -> Result<Parsed, Mistakes> {
    parse_and_place(text, None)
}

/// Reads a club file whose venues must lie where a forecast covers them.
///
/// # Errors
/// As `parse`; each forecast point outside the coverage is a mistake too.
pub fn parse_within(text: &str, coverage: &Coverage<'_>) -> Result<Parsed, Mistakes> {
    parse_and_place(text, Some(coverage))
}

/// Reads a club file as it lies on a disk, where it may be no text at all.
///
/// # Errors
/// As `parse` and, with a coverage, `parse_within`; bytes that are no UTF-8 are one mistake where they begin.
pub fn parse_bytes(bytes: &[u8], coverage: Option<&Coverage<'_>>) -> Result<Parsed, Mistakes> {
    match str::from_utf8(bytes) {
        Ok(text) => parse_and_place(text, coverage),
        Err(error) => {
            let readable = str::from_utf8(&bytes[..error.valid_up_to()]).unwrap_or("");
            let (line, column) = line_and_column(readable, readable.len());
            Err(one_mistake(
                line,
                column,
                "bytes that are no text".into(),
                "text in UTF-8".into(),
            ))
        }
    }
}

fn parse_and_place(text: &str, coverage: Option<&Coverage<'_>>) -> Result<Parsed, Mistakes> {
    if text.len() > FILE_AT_MOST {
        return Err(one_mistake(
            1,
            1,
            format!("{} bytes", text.len()),
            format!("at most {FILE_AT_MOST}"),
        ));
    }
    let document = DeTable::parse(text).map_err(|error| syntax_mistake(text, &error))?;
    let page = Page::new(text);
    let mut root = Table::new(&page, String::new(), 0, document.get_ref());
    let read = read_document(&mut root, &page, coverage, text);
    root.finish();
    let mistakes = page.into_mistakes();
    match read {
        Some(parsed) if mistakes.is_empty() => Ok(parsed),
        // Every part that cannot be read says why; this is for a part that does not.
        _ if mistakes.is_empty() => Err(one_mistake(
            1,
            1,
            "a part that could not be read".into(),
            "a club file".into(),
        )),
        _ => Err(Mistakes(mistakes)),
    }
}

fn one_mistake(line: u32, column: u32, found: String, expected: String) -> Mistakes {
    Mistakes(vec![Mistake {
        line,
        column,
        key: "the file".to_owned(),
        found,
        expected,
    }])
}

fn syntax_mistake(text: &str, error: &toml::de::Error) -> Mistakes {
    let span = error.span().unwrap_or(0..0);
    let (line, column) = line_and_column(text, span.start);
    let found = quoted(text.get(span).unwrap_or(""));
    let expected = format!(
        "TOML ({}); the rest is checked once this is mended",
        quoted(error.message())
    );
    one_mistake(line, column, found, expected)
}

fn read_document<'p>(
    root: &mut Table<'p>,
    page: &Page<'_>,
    coverage: Option<&Coverage<'_>>,
    text: &str,
) -> Option<Parsed> {
    let (club, zone) = read_club(root);
    let policy = read_policy(root);
    let keys = ["venues", "boats", "levels", "sessions"].map(|list| keys_in(root, list));
    let known = Known {
        venues: &keys[0],
        boats: &keys[1],
        levels: &keys[2],
        zone,
    };

    let mut places = Vec::new();
    let venues = root.required("venues", "at least one venue");
    let venues = entries(venues, VENUES_AT_MOST, |_, table| read_venue(table, &mut places));
    let boats = root.required("boats", "at least one boat");
    let boats = entries(boats, BOATS_AT_MOST, |_, table| read_boat(table));
    let mut level_places = Vec::new();
    let levels = root.required("levels", "at least one level");
    let levels = entries(levels, LEVELS_AT_MOST, |index, table| {
        level_places.push(table.at());
        read_level(index, table)
    });
    let mut warnings = Vec::new();
    let sessions = match root.optional("sessions") {
        None => Some(Vec::new()),
        value => entries(value, SESSIONS_AT_MOST, |_, table| {
            read_session(table, &known, &mut warnings)
        }),
    };
    if let Some(coverage) = coverage {
        note_points_outside(page, &places, coverage);
    }

    let (club, venues, levels, sessions) = (club?, venues?, levels?, sessions?);
    let (boats, ends): (Vec<Boat>, Vec<TableEnd>) = boats?.into_iter().unzip();
    warnings.extend(unlimited_levels(page, &levels, &level_places));
    warnings.extend(tables_ending_early(page, &boats, &ends, &levels, &sessions));
    warnings.sort_by_key(|warning| (warning.line, warning.column));
    Some(Parsed {
        club: Club {
            name: club.name,
            slug: club.slug,
            time_zone: club.time_zone,
            contact: club.contact,
            decides_at: club.decides_at,
            warnings_from: club.warnings_from,
            sails: club.sails,
            policy,
            venues,
            boats,
            levels,
            sessions,
            version: Sha256::digest(text)
                .iter()
                .map(|byte| format!("{byte:02x}"))
                .collect(),
        },
        warnings,
    })
}

fn note_points_outside(page: &Page<'_>, places: &[PointPlace], coverage: &Coverage<'_>) {
    for place in places.iter().filter(|place| !(coverage.covers)(place.point)) {
        let found = format!("a point at {}, {}", place.point.lat, place.point.lon);
        page.mistake_at(
            place.at,
            &place.path,
            found,
            format!("a point within the forecast: {}", coverage.area),
        );
    }
}

/// A level that limits neither mean nor gust stops only where the boat's table ends.
fn unlimited_levels(page: &Page<'_>, levels: &[Level], places: &[usize]) -> Vec<Mistake> {
    let without = |level: &Level| {
        ![Quantity::Mean, Quantity::Gust]
            .iter()
            .all(|wind| level.limits.contains_key(wind))
    };
    levels
        .iter()
        .zip(places)
        .enumerate()
        .filter(|(_, (level, _))| without(level))
        .map(|(index, (_, at))| {
            let key = format!("levels[{index}].limits");
            page.describe(
                *at,
                &key,
                "no limit on the mean wind or on gusts",
                "mean_kn and gust_kn",
            )
        })
        .collect()
}

/// Where a level would still sail in winds that the boat's table does not reach: the boat then does not sail.
fn tables_ending_early(
    page: &Page<'_>,
    boats: &[Boat],
    ends: &[TableEnd],
    levels: &[Level],
    sessions: &[SessionRule],
) -> Vec<Mistake> {
    let all_pairs = || {
        (0..boats.len())
            .flat_map(|boat| (0..levels.len()).map(move |level| (boat, level)))
            .collect()
    };
    let pairs: BTreeSet<(usize, usize)> = match sessions {
        [] => all_pairs(),
        _ => sessions
            .iter()
            .map(|session| (session.boat, session.level))
            .collect(),
    };
    let mut warnings = Vec::new();
    for (boat, level) in pairs {
        let Some(row) = boats[boat].reef_table.rows().last() else {
            continue;
        };
        let (end, level) = (&ends[boat], &levels[level]);
        let mut compare = |quantity: Quantity, key: &str, at: usize, reaches: f64| {
            // Limits are of true wind, and so the table's end is compared as true wind reaches it.
            let past = |limit: &&Limit| boats[boat].in_table(Knots(limit.stop_at)).0 > reaches;
            let Some(limit) = level.limits.get(&quantity).filter(past) else {
                return;
            };
            let path = format!("{}.{key}", end.path);
            let found = format!("{reaches}, where the table of \"{}\" ends", boats[boat].name);
            let expected = format!(
                "at least {}, where level \"{}\" stops (past the table she does not sail)",
                in_table_words(&boats[boat], limit.stop_at),
                level.name
            );
            warnings.push(page.describe(at, &path, found, expected));
        };
        compare(Quantity::Mean, "mean_up_to_kn", end.mean_at, row.mean_up_to.0);
        compare(Quantity::Gust, "gust_up_to_kn", end.gust_at, row.gust_up_to.0);
    }
    warnings
}

/// A true wind as a boat's table would have it, in words.
fn in_table_words(boat: &Boat, wind: f64) -> String {
    match boat.table_wind {
        TableWind::True => wind.to_string(),
        TableWind::ApparentAtMasthead { .. } => {
            format!(
                "{:.1} at the masthead ({wind} of true wind)",
                boat.in_table(Knots(wind)).0
            )
        }
    }
}
