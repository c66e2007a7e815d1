//! Reads boats and their reef tables.
//!
//! Owns: `[[boats]]`, `[[boats.reef_table]]`, and that a table rises. Must not know: levels, sessions, rigs.

use super::dimensions::read_dimensions;
use super::value::Value;
use super::{Table, entries};
use crate::boat::{Boat, Headsail, ReefRow, ReefTable, TableWind};
use crate::dimensions::BoatDimensions;
use crate::readable_rig::proposed_table;
use seaway::point_of_sail::NO_GO_HALF_ANGLE_DEG;
use seaway::{Knots, Metres};

/// Rows of one reef table at most: a crew cannot tell more apart.
const ROWS_AT_MOST: usize = 20;
/// The word for a table of apparent wind at the masthead.
const APPARENT: &str = "apparent-masthead";
/// Speed close hauled under reduced sail of a boat that does not give it, knots. No source: common practice.
const CLOSE_HAULED_KN: f64 = 5.0;

/// Where a boat's last row stands in the file, for warnings about where the table ends.
pub(crate) struct TableEnd {
    /// Path of the last row.
    pub(crate) path: String,
    /// Byte offset of its `mean_up_to_kn`.
    pub(crate) mean_at: usize,
    /// Byte offset of its `gust_up_to_kn`.
    pub(crate) gust_at: usize,
}

/// Reads one boat.
pub(crate) fn read_boat(table: &mut Table<'_>) -> Option<(Boat, TableEnd)> {
    let id = table
        .required("id", "the boat's key")
        .and_then(|value| value.key());
    let name = table
        .required("name", "the boat's name")
        .and_then(|value| value.text());
    let rows = table.optional("reef_table");
    let dimensions = table.optional("dimensions");
    let table_wind = read_table_wind(table);
    let closest_deg = table
        .optional("closest_deg")
        .map_or(Some(NO_GO_HALF_ANGLE_DEG), |value| value.number(30.0..=60.0));
    let has_dimensions = dimensions.is_some();
    let dimensions = dimensions.and_then(|value| read_dimensions(&value));
    if rows.is_none() {
        table.mistake("reef_table", "nothing", wanted_table(dimensions.as_ref()));
    }
    let (reef_table, end) = read_reef_table(rows)?;
    if has_dimensions && dimensions.is_none() {
        return None;
    }
    Some((
        Boat {
            id: id?,
            name: name?,
            reef_table,
            table_wind: table_wind?,
            closest_deg: closest_deg?,
            dimensions,
        },
        end,
    ))
}

/// Which wind the table speaks of; the keys of the apparent one have a meaning with it only.
fn read_table_wind(table: &mut Table<'_>) -> Option<TableWind> {
    let word = table.optional("table_wind").map_or(Some("true"), |value| {
        // A bare true reads like the word, and deserves to be told apart from it.
        if value.raw_text().is_none() {
            value.mistake(format!("\"true\" or \"{APPARENT}\", in quotation marks"));
            return None;
        }
        value.one_of(&["true", APPARENT])
    });
    let masthead = table.optional("masthead_m");
    let close_hauled = table.optional("close_hauled_kn");
    if word? == "true" {
        let needless: Vec<Value<'_>> = [masthead, close_hauled].into_iter().flatten().collect();
        for value in &needless {
            value.mistake(format!(
                "it only with table_wind = \"{APPARENT}\" (a table of true wind at 10 m has no use for it)"
            ));
        }
        return needless.is_empty().then_some(TableWind::True);
    }
    if masthead.is_none() {
        table.mistake(
            "masthead_m",
            "nothing",
            "how high above the water the masthead's instrument is, metres",
        );
    }
    let height = masthead.and_then(|value| value.number(5.0..=40.0));
    let boat_speed = close_hauled.map_or(Some(CLOSE_HAULED_KN), |value| value.number(1.0..=20.0));
    Some(TableWind::ApparentAtMasthead {
        height: Metres(height?),
        boat_speed: Knots(boat_speed?),
    })
}

/// What a boat without a table needs; with dimensions, a table to paste into the file once the boat has confirmed it.
fn wanted_table(dimensions: Option<&BoatDimensions>) -> String {
    let wanted = "at least one row: what she carries up to which wind";
    match dimensions.and_then(proposed_table) {
        Some(proposed) => format!("{wanted}; proposed: confirm with the boat: {proposed}"),
        None => wanted.to_owned(),
    }
}

fn read_reef_table(value: Option<Value<'_>>) -> Option<(ReefTable, TableEnd)> {
    let mut above = RowAbove::default();
    let rows = entries(value, ROWS_AT_MOST, |_, table| read_row(table, &mut above))?;
    let end = above.end?;
    Some((ReefTable { rows }, end))
}

/// The nearest values above the row being read; a value that could not be read is not compared with.
#[derive(Default)]
struct RowAbove {
    mean: Option<f64>,
    gust: Option<f64>,
    reefs: Option<u8>,
    headsail: Option<f64>,
    end: Option<TableEnd>,
}

fn read_row(table: &mut Table<'_>, above: &mut RowAbove) -> Option<ReefRow> {
    let mean_value = table.required("mean_up_to_kn", "the highest mean wind of the row, knots");
    let gust_value = table.required("gust_up_to_kn", "the highest gust of the row, knots");
    let mean = rising_wind(mean_value.as_ref(), &mut above.mean);
    let gust = rising_wind(gust_value.as_ref(), &mut above.gust);
    if let (Some(mean), Some(gust), Some(value)) = (mean, gust, gust_value.as_ref())
        && gust < mean
    {
        value.mistake(format!(
            "at least {mean}, the row's mean wind (a gust is never below it)"
        ));
    }
    let reefs = read_reefs(table, above);
    let headsail = read_headsail(table, above);
    let note = table.optional("note").map(|value| value.text());
    let foot_mark = table.optional("foot_mark").map(|value| value.text());
    above.end = mean_value.zip(gust_value).map(|(mean, gust)| TableEnd {
        path: table.path().to_owned(),
        mean_at: mean.at(),
        gust_at: gust.at(),
    });
    Some(ReefRow {
        mean_up_to: Knots(mean?),
        gust_up_to: Knots(gust?),
        reefs: reefs?,
        headsail: Headsail(headsail?),
        note: note.flatten(),
        foot_mark: foot_mark.flatten(),
    })
}

/// A wind limit, which must be above the one in the row above.
fn rising_wind(value: Option<&Value<'_>>, above: &mut Option<f64>) -> Option<f64> {
    let value = value?;
    let wind = value.number(1.0..=100.0)?;
    if let Some(limit) = above.filter(|limit| wind <= *limit) {
        value.mistake(format!("more than {limit}, the row above (rows rise)"));
    }
    *above = Some(wind);
    Some(wind)
}

fn read_reefs(table: &mut Table<'_>, above: &mut RowAbove) -> Option<u8> {
    let value = table.required("reefs", "how many reefs in the main, 0 for the full sail")?;
    let reefs = value.whole(0..=5)?;
    if let Some(more) = above.reefs.filter(|more| reefs < *more) {
        value.mistake(format!(
            "at least {more}, the row above (more wind never shakes out a reef)"
        ));
    }
    above.reefs = Some(reefs);
    Some(reefs)
}

fn read_headsail(table: &mut Table<'_>, above: &mut RowAbove) -> Option<f64> {
    let value = table.required("headsail", "the fraction of the headsail that is set, 0 to 1")?;
    let headsail = value.number(0.0..=1.0)?;
    if let Some(less) = above.headsail.filter(|less| headsail > *less) {
        value.mistake(format!(
            "at most {less}, the row above (more wind never unrolls headsail)"
        ));
    }
    above.headsail = Some(headsail);
    Some(headsail)
}
