//! The boat's physics in plain lines: each row's sails, their balance and heel, and a proposed table as it would be written.
//!
//! Owns: those lines. Must not know: how they are computed, files, terminals.

use crate::boat::{Boat, ReefRow, TableWind};
use crate::dimensions::{Balance, BoatDimensions, Heel, RowPhysics};
use crate::readable::count;
use seaway::Knots;

/// The lines on a boat's rows, if her dimensions are given.
pub(crate) fn physics_lines(boat: &Boat) -> Vec<String> {
    let Some(dimensions) = &boat.dimensions else {
        return Vec::new();
    };
    let mut lines = vec![format!(
        "    from her dimensions, close hauled; comfortable up to {} degrees of heel:",
        dimensions.comfortable_heel_deg
    )];
    lines.extend(default_line(dimensions));
    for (index, row) in boat.reef_table.rows().iter().enumerate() {
        let start = format!("      row {}: ", index + 1);
        let row = in_true_wind(row, boat);
        match dimensions.of_row(&row) {
            Some(physics) => {
                lines.push(start + &sails(&physics));
                lines.push(format!("             {}", heels(&physics, &row)));
            }
            None => lines.push(start + "no sail is set"),
        }
    }
    lines
}

/// Which of her measures are defaults, for these numbers rest on them.
fn default_line(dimensions: &BoatDimensions) -> Option<String> {
    let left = dimensions.by_default;
    let words = [
        (
            left.boom_above_deck,
            format!("boom {} m above the deck", dimensions.rig.boom_above_deck.0),
        ),
        (
            left.freeboard,
            format!("freeboard {:.2} m", dimensions.freeboard.0),
        ),
        (left.draught, format!("draught {:.2} m", dimensions.draught.0)),
        (
            left.luff_taken_by_a_reef,
            format!(
                "{:.0} % of the luff taken by a reef",
                dimensions.luff_taken_by_a_reef * 100.0
            ),
        ),
        (
            left.reefs_in_main,
            format!("{} in the main", count(dimensions.reefs_in_main.into(), "reef")),
        ),
        (
            left.comfortable_heel,
            format!("comfortable up to {} degrees", dimensions.comfortable_heel_deg),
        ),
    ];
    let by_default: Vec<String> = words
        .into_iter()
        .filter(|(left_out, _)| *left_out)
        .map(|(_, words)| words)
        .collect();
    (!by_default.is_empty()).then(|| format!("      by default: {}", by_default.join(", ")))
}

/// A row with its winds as true wind, to the tenth: heel is reckoned in it.
fn in_true_wind(row: &ReefRow, boat: &Boat) -> ReefRow {
    if boat.table_wind == TableWind::True {
        return row.clone();
    }
    let in_tenths = |wind: Knots| Knots((wind.0 * 10.0).round() / 10.0);
    let row = boat.row_in_true_wind(row);
    ReefRow {
        mean_up_to: in_tenths(row.mean_up_to),
        gust_up_to: in_tenths(row.gust_up_to),
        ..row
    }
}

fn sails(physics: &RowPhysics) -> String {
    let effort = &physics.effort;
    format!(
        "{:.1} m2, centre {:.1} m above the deck, {}",
        effort.area.0,
        effort.above_deck.0,
        shift(physics)
    )
}

fn shift(physics: &RowPhysics) -> String {
    let metres = physics.shift_aft.0;
    let shifted = match format!("{:.1}", metres.abs()).as_str() {
        "0.0" => "where it is under full sail".to_owned(),
        by if metres > 0.0 => format!("{by} m aft of full sail's"),
        by => format!("{by} m forward of full sail's"),
    };
    let verdict = match physics.balance {
        Balance::Balanced => "balanced",
        Balance::MoreWeatherHelm => "more weather helm, reef more of the main",
        Balance::LessWeatherHelm => "less weather helm, roll more of the headsail",
    };
    format!("{shifted}: {verdict}")
}

fn heels(physics: &RowPhysics, row: &ReefRow) -> String {
    format!(
        "heel {} at {} kn, {} in gusts of {} kn",
        heel(physics.heel_at_mean),
        row.mean_up_to.0,
        heel(physics.heel_in_gusts),
        row.gust_up_to.0
    )
}

fn heel(heel: Heel) -> String {
    match heel {
        Heel::Comfortable(degrees) => format!("{degrees:.0} degrees (comfortable)"),
        Heel::WellHeeled(degrees) => format!("{degrees:.0} degrees (well heeled)"),
        Heel::HardPressed(degrees) => format!("{degrees:.0} degrees (hard pressed)"),
        Heel::BeyondTheFormula => format!(
            "past {} degrees (hard pressed)",
            seaway::heel::SINE_HOLDS_UP_TO_DEG
        ),
    }
}

/// The table proposed for a boat, on one line as the file would have it. None where even a light air heels her too far.
pub(crate) fn proposed_table(dimensions: &BoatDimensions) -> Option<String> {
    let rows: Vec<String> = dimensions
        .proposed_rows()
        .iter()
        .map(|row| {
            format!(
                "{{ mean_up_to_kn = {}, gust_up_to_kn = {}, reefs = {}, headsail = {} }}",
                row.mean_up_to.0, row.gust_up_to.0, row.reefs, row.headsail.0
            )
        })
        .collect();
    (!rows.is_empty()).then(|| format!("reef_table = [{}]", rows.join(", ")))
}
