//! Reads a boat's dimensions.
//!
//! Owns: `[boats.dimensions]`, its bounds and defaults. Must not know: reef tables, what follows from the dimensions.

use super::Table;
use super::value::Value;
use crate::dimensions::{BoatDimensions, ByDefault, COMFORTABLE_HEEL_DEG};
use seaway::heel::Stiffness;
use seaway::rig::{LUFF_TAKEN_BY_A_REEF, RigTriangle};
use seaway::{Kilograms, Metres, NewtonMetres};
use std::ops::RangeInclusive;

/// Freeboard of a boat that does not give it, as a fraction of the waterline. No source: common practice.
const FREEBOARD_OF_WATERLINE: f64 = 0.1;
/// The same for the draught. No source: common practice.
const DRAUGHT_OF_WATERLINE: f64 = 0.2;
/// Height of the boom above the deck where it is not given, metres. No source: common practice.
const BOOM_ABOVE_DECK_M: f64 = 1.0;
/// Reefs in a main that does not say. No source: common practice.
const REEFS_IN_MAIN: u8 = 2;

/// Reads the dimensions of one boat. The bounds take in everything from a dinghy to a sail-training ship's tender.
pub(crate) fn read_dimensions(value: &Value<'_>) -> Option<BoatDimensions> {
    let mut table = value.table()?;
    let read = read_measures(&mut table);
    table.finish();
    read
}

fn read_measures(table: &mut Table<'_>) -> Option<BoatDimensions> {
    let i = measure(table, "i_m", "I: height of the foretriangle, metres", 2.0..=60.0);
    let j = measure(table, "j_m", "J: base of the foretriangle, metres", 0.5..=20.0);
    let p = measure(table, "p_m", "P: luff of the main, metres", 2.0..=60.0);
    let e = measure(table, "e_m", "E: foot of the main, metres", 0.5..=25.0);
    let mut by_default = ByDefault::default();
    let boom = or_default(
        table,
        "boom_above_deck_m",
        (BOOM_ABOVE_DECK_M, &mut by_default.boom_above_deck),
        0.0..=4.0,
    );
    let waterline = measure(
        table,
        "waterline_m",
        "length of the waterline, metres",
        3.0..=40.0,
    );
    let displacement = measure(
        table,
        "displacement_kg",
        "her mass as she sails, kilograms",
        100.0..=200_000.0,
    );
    let stiffness = read_stiffness(table, displacement.map(Kilograms));
    // Where the waterline could not be read there is a mistake already, and no boat.
    let of_waterline = waterline.unwrap_or(0.0);
    let freeboard = or_default(
        table,
        "freeboard_m",
        (FREEBOARD_OF_WATERLINE * of_waterline, &mut by_default.freeboard),
        0.1..=5.0,
    );
    let draught = or_default(
        table,
        "draught_m",
        (DRAUGHT_OF_WATERLINE * of_waterline, &mut by_default.draught),
        0.1..=8.0,
    );
    // Five reefs, the most a row can ask for, leave some sail at the upper bound.
    let luff = or_default(
        table,
        "luff_taken_by_a_reef",
        (LUFF_TAKEN_BY_A_REEF, &mut by_default.luff_taken_by_a_reef),
        0.05..=0.18,
    );
    let reefs = table.optional("reefs_in_main");
    by_default.reefs_in_main = reefs.is_none();
    let reefs = reefs.map_or(Some(REEFS_IN_MAIN), |value| value.whole(0..=5));
    let heel = or_default(
        table,
        "comfortable_heel_deg",
        (COMFORTABLE_HEEL_DEG, &mut by_default.comfortable_heel),
        5.0..=30.0,
    );
    Some(BoatDimensions {
        rig: RigTriangle {
            i: Metres(i?),
            j: Metres(j?),
            p: Metres(p?),
            e: Metres(e?),
            boom_above_deck: Metres(boom?),
        },
        waterline: Metres(waterline?),
        displacement: Kilograms(displacement?),
        stiffness: stiffness?,
        freeboard: Metres(freeboard?),
        draught: Metres(draught?),
        luff_taken_by_a_reef: luff?,
        reefs_in_main: reefs?,
        comfortable_heel_deg: heel?,
        by_default,
    })
}

/// Exactly one of GM and the righting moment.
fn read_stiffness(table: &mut Table<'_>, displacement: Option<Kilograms>) -> Option<Stiffness> {
    let gm = table.optional("gm_m");
    let moment = table.optional("righting_moment_nm_per_deg");
    match (gm, moment) {
        (Some(gm), None) => {
            let gm = gm.number(0.1..=5.0)?;
            Some(Stiffness::of_metacentre(displacement?, Metres(gm)))
        }
        (None, Some(moment)) => {
            let moment = moment.number(10.0..=200_000.0)?;
            Some(Stiffness::of_moment_at_one_degree(NewtonMetres(moment)))
        }
        (Some(_), Some(moment)) => {
            moment.mistake("only one of gm_m and righting_moment_nm_per_deg");
            None
        }
        (None, None) => {
            table.mistake(
                "gm_m",
                "nothing",
                "her metacentric height in metres, or righting_moment_nm_per_deg in newton metres at one degree",
            );
            None
        }
    }
}

fn measure(
    table: &mut Table<'_>,
    key: &'static str,
    expected: &str,
    range: RangeInclusive<f64>,
) -> Option<f64> {
    table.required(key, expected)?.number(range)
}

/// A measure with a default; the flag beside the default says whether it stands.
fn or_default(
    table: &mut Table<'_>,
    key: &'static str,
    (default, stands): (f64, &mut bool),
    range: RangeInclusive<f64>,
) -> Option<f64> {
    let value = table.optional(key);
    *stands = value.is_none();
    value.map_or(Some(default), |value| value.number(range))
}
