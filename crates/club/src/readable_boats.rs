//! Boats in plain lines: their tables, and where the levels' limits fall in them.
//!
//! Owns: those lines. Must not know: the boat's physics, files, terminals.

use crate::boat::{Boat, ReefRow, TableWind};
use crate::level::{Level, Quantity};
use crate::readable_levels::quantity_name;
use crate::readable_rig::physics_lines;
use seaway::Knots;

/// The lines on one boat.
pub(crate) fn boat_lines(boat: &Boat, levels: &[Level]) -> Vec<String> {
    let rows = boat.reef_table.rows();
    let mut lines = vec![
        format!("  {}", boat.name),
        format!(
            "    {}; she sails no closer to the true wind than {} degrees",
            table_wind_words(boat.table_wind),
            boat.closest_deg
        ),
    ];
    let numbered = rows.iter().enumerate();
    lines.extend(numbered.map(|(index, row)| row_line(index, row, boat)));
    if let Some(last) = rows.last() {
        lines.push(format!(
            "    past a mean of {} kn or a gust of {} kn she does not sail",
            last.mean_up_to.0, last.gust_up_to.0
        ));
    }
    lines.extend(levels.iter().filter_map(|level| level_in_table(boat, level)));
    lines.extend(physics_lines(boat));
    lines
}

fn table_wind_words(wind: TableWind) -> String {
    match wind {
        TableWind::True => "her table speaks of true wind at 10 m".to_owned(),
        TableWind::ApparentAtMasthead { height, boat_speed } => format!(
            "her table speaks of apparent wind at the masthead, {} m up, close hauled at {} kn",
            height.0, boat_speed.0
        ),
    }
}

fn row_line(index: usize, row: &ReefRow, boat: &Boat) -> String {
    let mark = row
        .foot_mark
        .as_ref()
        .map_or(String::new(), |mark| format!(" to the mark {mark}"));
    let note = row
        .note
        .as_ref()
        .map_or(String::new(), |note| format!(" ({note})"));
    let as_true = match boat.table_wind {
        TableWind::True => String::new(),
        TableWind::ApparentAtMasthead { .. } => {
            let row = boat.row_in_true_wind(row);
            format!(
                ", of true wind {:.1} and {:.1} kn",
                row.mean_up_to.0, row.gust_up_to.0
            )
        }
    };
    format!(
        "    row {}: mean to {:>4} kn, gust to {:>4} kn{as_true}: {}, {}{mark}{note}",
        index + 1,
        row.mean_up_to.0,
        row.gust_up_to.0,
        reefs(row.reefs),
        headsail(row.headsail.0)
    )
}

fn reefs(reefs: u8) -> String {
    match reefs {
        0 => "full main".to_owned(),
        1 => "1 reef".to_owned(),
        more => format!("{more} reefs"),
    }
}

fn headsail(fraction: f64) -> String {
    if fraction >= 1.0 {
        "full headsail".to_owned()
    } else if fraction <= 0.0 {
        "no headsail".to_owned()
    } else {
        format!("{:.0} % of the headsail", fraction * 100.0)
    }
}

/// In which rows of a boat's table a level's wind limits lie.
fn level_in_table(boat: &Boat, level: &Level) -> Option<String> {
    let rows = boat.reef_table.rows();
    let row_at = |reaches: &dyn Fn(&ReefRow) -> f64, wind: f64| {
        let wind = boat.in_table(Knots(wind)).0;
        match rows.iter().position(|row| wind <= reaches(row)) {
            Some(index) => format!("row {}", index + 1),
            None => "past the table".to_owned(),
        }
    };
    let words = |quantity: Quantity, reaches: &dyn Fn(&ReefRow) -> f64| {
        level.limits.get(&quantity).map(|limit| {
            format!(
                "{} caution {} ({}), stop {} ({})",
                quantity_name(quantity),
                limit.caution_at,
                row_at(reaches, limit.caution_at),
                limit.stop_at,
                row_at(reaches, limit.stop_at)
            )
        })
    };
    let mean = words(Quantity::Mean, &|row| row.mean_up_to.0);
    let gust = words(Quantity::Gust, &|row| row.gust_up_to.0);
    let both: Vec<String> = [mean, gust].into_iter().flatten().collect();
    (!both.is_empty()).then(|| format!("    {}: {}", level.name, both.join("; ")))
}
