//! What is possible in a club file but probably not meant: the warnings that need several of its parts.
//!
//! Owns: those warnings. Must not know: TOML values, the clock.

use crate::boat::{Boat, TableWind};
use crate::level::{Level, Limit, Quantity};
use crate::mistake::Mistake;
use crate::model::{SessionRule, Venue};
use crate::read::Page;
use crate::read::boats::TableEnd;
use crate::read::tide::HighWatersPlace;
use crate::recurrence::instant_of;
use chrono_tz::Tz;
use seaway::Knots;
use std::collections::BTreeSet;

/// A venue whose high waters end before one of its sessions first leaves: they are probably last year's. There is no clock
/// here, so only the sessions' first dates are compared.
pub(crate) fn high_waters_ending_early(
    page: &Page<'_>,
    venues: &[Venue],
    places: &[Option<HighWatersPlace>],
    sessions: &[SessionRule],
    zone: Tz,
) -> Vec<Mistake> {
    let mut warnings = Vec::new();
    for (index, (venue, place)) in venues.iter().zip(places).enumerate() {
        let (Some(place), Some(last)) = (place, venue.high_waters.last()) else {
            continue;
        };
        let without = sessions
            .iter()
            .find(|session| session.venue == index && instant_of(session.leaves, zone) > last.at);
        warnings.extend(without.map(|session| {
            let ends = last.at.with_timezone(&zone).format("%Y-%m-%d %H:%M");
            let found = format!("a last high water at {ends}");
            let leaves = session.leaves.format("%Y-%m-%d %H:%M");
            let expected = format!(
                "high waters beyond {leaves}, when session \"{}\" first leaves",
                session.id
            );
            page.describe(place.at, &place.path, found, expected)
        }));
    }
    warnings
}

/// A level that limits neither mean nor gust stops only where the boat's table ends.
pub(crate) fn unlimited_levels(page: &Page<'_>, levels: &[Level], places: &[usize]) -> Vec<Mistake> {
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
pub(crate) fn tables_ending_early(
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
