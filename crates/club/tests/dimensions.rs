//! A boat's dimensions: their mistakes, what check says of each row, and the table it proposes.
#![expect(
    clippy::expect_used,
    clippy::panic,
    reason = "a test's helper that fails is a failed test"
)]

use club::dimensions::{Balance, Heel};
use club::{BoatDimensions, Headsail, ReefRow, parse, readable_checks};
use proptest::prelude::*;
use seaway::Knots;

const SMALL: &str = include_str!("../../../fixtures/club/small.toml");

/// The invented 10 m cruising sloop of fixtures/reference/d_rig_heel.csv, her crew comfortable up to 15 degrees.
const SLOOP: &str = "dimensions = { i_m = 13.2, j_m = 3.9, p_m = 11.9, e_m = 4.2, waterline_m = 8.5, \
    displacement_kg = 5200, gm_m = 1.1, comfortable_heel_deg = 15 }\n";

/// The small club with dimensions, and its table or none.
fn small(dimensions: &str, with_table: bool) -> String {
    let (before, rest) = SMALL.split_once("reef_table = [").expect("a table");
    let (table, after) = rest.split_once("\n]").expect("the table ends");
    let table = if with_table {
        format!("reef_table = [{table}\n]")
    } else {
        String::new()
    };
    format!("{before}{dimensions}{table}{after}")
}

fn mistakes(text: &str) -> Vec<String> {
    match parse(text) {
        Ok(_) => Vec::new(),
        Err(mistakes) => mistakes.0.iter().map(ToString::to_string).collect(),
    }
}

fn sloop() -> BoatDimensions {
    let parsed = parse(&small(SLOOP, true)).unwrap_or_else(|mistakes| panic!("{mistakes}"));
    parsed.club.boats[0].dimensions.expect("they are given")
}

fn row(mean: f64, gust: f64, reefs: u8, headsail: f64) -> ReefRow {
    ReefRow {
        mean_up_to: Knots(mean),
        gust_up_to: Knots(gust),
        reefs,
        headsail: Headsail(headsail),
        note: None,
        foot_mark: None,
    }
}

#[test]
fn impossible_dimensions_are_mistakes_with_their_place() {
    let wrong = |from: &str, to: &str| mistakes(&small(&SLOOP.replacen(from, to, 1), true));
    for (from, to, expected) in [
        (
            "i_m = 13.2",
            "i_m = 132",
            "i_m: found 132, expected a number from 2 to 60",
        ),
        (
            "p_m = 11.9",
            "p_m = nan",
            "p_m: found nan, expected a number from 2 to 60",
        ),
        (
            "j_m = 3.9, ",
            "",
            "j_m: found nothing, expected J: base of the foretriangle, metres",
        ),
        (
            "gm_m = 1.1, ",
            "",
            "gm_m: found nothing, expected her metacentric height in metres, or",
        ),
        (
            "gm_m = 1.1",
            "gm_m = 1.1, righting_moment_nm_per_deg = 980",
            "righting_moment_nm_per_deg: found 980, expected only one of gm_m and",
        ),
        ("e_m", "e_metres", "e_metres: found an unknown key"),
        (
            "gm_m = 1.1",
            "gm_m = 1.1, reefs_in_main = 2.5",
            "reefs_in_main: found 2.5, expected a whole number",
        ),
    ] {
        let found = wrong(from, to);
        let whole = format!(": boats[0].dimensions.{expected}");
        assert!(
            found
                .iter()
                .any(|line| line.starts_with("line ") && line.contains(&whole)),
            "{expected}\nin {found:?}"
        );
    }
    assert_eq!(mistakes(&small("dimensions = 3\n", true)).len(), 1);
}

#[test]
fn a_boat_without_a_table_is_a_mistake_that_proposes_one_which_can_be_pasted() {
    let found = mistakes(&small(SLOOP, false));
    assert_eq!(found.len(), 1, "{found:?}");
    let (_, proposed) = found[0]
        .split_once("proposed: confirm with the boat: ")
        .unwrap_or_else(|| panic!("{found:?}"));
    let pasted = small(&format!("{SLOOP}{proposed}\n"), false);
    assert_eq!(mistakes(&pasted), [""; 0], "{pasted}");
    let plain = mistakes(&small("", false));
    assert!(plain.len() == 1 && !plain[0].contains("proposed"), "{plain:?}");
}

/// Source: fixtures/reference/c_points_of_sail.csv, common practice without a source.
#[test]
fn in_force_five_the_proposal_for_a_beginner_crew_is_what_practice_says() {
    let path = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../../fixtures/reference/c_points_of_sail.csv"
    );
    let proposed = sloop().proposed_rows();
    let in_force_five = proposed
        .iter()
        .find(|row| row.mean_up_to >= Knots(20.0) && row.gust_up_to >= Knots(26.0))
        .expect("a row for 20 kn gusting 26");
    let mut checked = 0;
    for record in csv::Reader::from_path(path)
        .expect("the check values")
        .deserialize::<std::collections::HashMap<String, String>>()
    {
        let record = record.expect("a row");
        let found = match record["quantity"].as_str() {
            "force5_main_reefs_beginner_crew" => f64::from(in_force_five.reefs),
            "force5_headsail_fraction_beginner_crew" => in_force_five.headsail.0,
            _ => continue,
        };
        let number = |column: &str| record[column].parse::<f64>().expect("a number");
        assert!(
            (found - number("expected")).abs() <= number("tolerance"),
            "{}: found {found}, expected {} within {}; source: {} [{}]; proposed {proposed:?}",
            record["id"],
            record["expected"],
            record["tolerance"],
            record["source"],
            record["provenance"]
        );
        checked += 1;
    }
    assert_eq!(checked, 2);
}

/// By hand: main 24.99 m2 centred 5.30 m aft of the tack, headsail 25.74 m2 at 2.60 m: 3.930 m under full sail. With two
/// reefs 14.43 m2 at 4.964 m; half the headsail 12.87 m2 at 1.930 m: 27.30 m2 at 3.534 m, 0.40 m forward of full sail.
#[test]
fn reefing_both_sails_keeps_the_balance_and_reefing_one_alone_does_not() {
    let boat = sloop();
    let both = boat.of_row(&row(20.0, 26.0, 2, 0.5)).expect("sails are set");
    assert!((both.effort.area.0 - 27.30).abs() < 0.01, "{both:?}");
    assert!((both.shift_aft.0 + 0.396).abs() < 0.005, "{both:?}");
    assert_eq!(both.balance, Balance::Balanced);
    let balance = |reefs, headsail| {
        boat.of_row(&row(20.0, 26.0, reefs, headsail))
            .map(|row| row.balance)
    };
    assert_eq!(balance(0, 0.0), Some(Balance::MoreWeatherHelm));
    assert_eq!(balance(3, 1.0), Some(Balance::LessWeatherHelm));
    assert_eq!(balance(0, 1.0), Some(Balance::Balanced));
}

/// No source: common practice. Full sail in 20 kn close hauled presses a 10 m cruiser hard; a light air does not.
#[test]
fn heel_has_the_name_a_crew_would_give_it() {
    let boat = sloop();
    let full = boat.effort(0, Headsail(1.0)).expect("sails are set");
    assert!(matches!(boat.heel(&full, Knots(8.0)), Heel::Comfortable(_)));
    assert!(matches!(boat.heel(&full, Knots(20.0)), Heel::HardPressed(_)));
    assert_eq!(boat.heel(&full, Knots(70.0)), Heel::BeyondTheFormula);
    assert_eq!(boat.heel(&full, Knots(f64::NAN)), Heel::BeyondTheFormula);
}

#[test]
fn check_says_what_each_row_does() {
    let parsed = parse(&small(SLOOP, true)).unwrap_or_else(|mistakes| panic!("{mistakes}"));
    let rows = parsed.club.boats[0].reef_table.rows().len();
    let lines = readable_checks(&parsed.club);
    let about_sails = lines.iter().filter(|line| line.contains(" m2, centre ")).count();
    let about_heel = lines
        .iter()
        .filter(|line| line.contains(" heel ") && line.contains(" in gusts of "))
        .count();
    assert_eq!((about_sails, about_heel), (rows, rows), "{}", lines.join("\n"));
    let without = parse(SMALL).unwrap_or_else(|mistakes| panic!("{mistakes}")).club;
    assert!(
        !readable_checks(&without)
            .iter()
            .any(|line| line.contains("dimensions"))
    );
}

proptest! {
    /// Whatever the boat: what is proposed is a table that the club file takes, or nothing is proposed.
    #[test]
    fn every_proposal_is_a_table(
        i in 2.0f64..60.0, j in 0.5f64..20.0, p in 2.0f64..60.0, e in 0.5f64..25.0, waterline in 3.0f64..40.0,
        mass in 100.0f64..200_000.0, gm in 0.1f64..5.0, reefs in 0u8..=5, luff in 0.05f64..0.18, heel in 5.0f64..30.0,
    ) {
        let dimensions = format!(
            "dimensions = {{ i_m = {i}, j_m = {j}, p_m = {p}, e_m = {e}, waterline_m = {waterline}, displacement_kg = {mass}, \
             gm_m = {gm}, reefs_in_main = {reefs}, luff_taken_by_a_reef = {luff}, comfortable_heel_deg = {heel} }}\n"
        );
        let found = mistakes(&small(&dimensions, false));
        prop_assert_eq!(found.len(), 1, "{:?}", found);
        if let Some((_, proposed)) = found[0].split_once("proposed: confirm with the boat: ") {
            let pasted = mistakes(&small(&format!("{dimensions}{proposed}\n"), false));
            prop_assert!(pasted.is_empty(), "{:?}", pasted);
        }
    }
}
