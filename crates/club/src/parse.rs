//! From the file's text to a valid club, or to every mistake at once.
//!
//! Owns: the order of reading, bounds on the whole, what needs several parts of the file. Must not know: TOML values,
//! which the rooms under `read` take apart.

use crate::boat::Boat;
use crate::mistake::{Mistake, Mistakes, line_and_column, quoted};
use crate::model::{Club, Venue};
use crate::odd::{high_waters_ending_early, tables_ending_early, unlimited_levels};
use crate::read::boats::{TableEnd, read_boat};
use crate::read::club_table::read_club;
use crate::read::levels::read_level;
use crate::read::policy::read_policy;
use crate::read::sessions::{Known, read_session};
use crate::read::tide::HighWatersPlace;
use crate::read::venues::{PointPlace, read_venue};
use crate::read::{Page, Table, entries, keys_in};
use seaway::LatLon;
use sha2::{Digest, Sha256};
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
    let venues = entries(venues, VENUES_AT_MOST, |_, table| {
        read_venue(table, zone, &policy, &mut places)
    });
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
    let (venues, high_waters): (Vec<Venue>, Vec<Option<HighWatersPlace>>) = venues.into_iter().unzip();
    let (boats, ends): (Vec<Boat>, Vec<TableEnd>) = boats?.into_iter().unzip();
    warnings.extend(unlimited_levels(page, &levels, &level_places));
    warnings.extend(high_waters_ending_early(
        page,
        &venues,
        &high_waters,
        &sessions,
        club.time_zone,
    ));
    warnings.extend(tables_ending_early(page, &boats, &ends, &levels, &sessions));
    warnings.sort_by_key(|warning| (warning.line, warning.column));
    Some(Parsed {
        club: Club {
            name: club.name,
            slug: club.slug,
            time_zone: club.time_zone,
            contact: club.contact,
            decides_at: club.decides_at,
            digest_at: club.digest_at,
            warnings_from: club.warnings_from,
            public: club.public,
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
