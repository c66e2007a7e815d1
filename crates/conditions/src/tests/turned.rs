//! Runs on a grid whose rows and columns are not parallels and meridians: the nearest node alone, and outside it nothing.
//!
//! No source: geometry of squares that stand on a corner, worked out beside each check; values are invented.

use super::support::*;
use forecast::Parameter;

/// From node to node, degrees of latitude: 3.002 nautical miles.
const SPACING: f64 = 0.05;
const ACROSS: u32 = 6;

/// So many columns and rows from the node at 40 N, 10 W; x leaves true east by 30 degrees towards north.
fn at(column: f64, row: f64) -> (f64, f64) {
    let (sin, cos) = 30_f64.to_radians().sin_cos();
    let (east, north) = (column * cos - row * sin, column * sin + row * cos);
    let lat = 40.0 + north * SPACING;
    (lat, -10.0 + east * SPACING / 40_f64.to_radians().cos())
}

/// Six rows of six; the wind comes from the south-west by its true components, 10 kn and a tenth for each node on both.
fn turned() -> Run {
    let mut run = Run::new("gfs", ACROSS, ACROSS, 1, &[0, 3]);
    run.slice.grid = "nearest-0123456789abcdef".into();
    for series in &mut run.slice.nodes {
        let (lat, lon) = at(series.node.column.into(), series.node.row.into());
        series.node.at = place(lat, lon);
    }
    let component = |(row, column): (u32, u32), _: usize, _: usize| Ok(knots(row, column) as f32);
    run.field(Parameter::WindU, component)
        .field(Parameter::WindV, component)
}

fn knots(row: u32, column: u32) -> f64 {
    (10.0 + 0.1 * f64::from(row * ACROSS + column)) * MS
}

fn land_at(run: Run, is_land: impl Fn((u32, u32)) -> bool) -> Run {
    run.field(Parameter::LandShare, |node, _, _| {
        Ok(if is_land(node) { 1.0 } else { 0.0 })
    })
}

fn off(column: f64, row: f64) -> club::model::Venue {
    venue(&[at(column, row)])
}

#[test]
fn the_nearest_node_gives_its_value_unmixed() {
    let run = land_at(turned(), |_| false);
    for (column, row, node) in [
        (2.0, 3.0, 20.0),
        (2.45, 2.55, 20.0),
        (2.55, 2.55, 21.0),
        (0.0, 0.0, 0.0),
    ] {
        let wind = hour(&off(column, row), &[&run], 0.0).wind.expect("known");
        near(wind.value.speed.0, (10.0 + 0.1 * node) * 2_f64.sqrt());
        near(wind.value.from.degrees(), 225.0);
        assert!(wind.notes.offshore.is_none() && !wind.notes.no_land_mask);
    }
}

#[test]
fn a_place_beyond_the_outermost_row_is_outside_though_a_node_is_near() {
    let run = land_at(turned(), |_| false);
    let wind = |column, row| hour(&off(column, row), &[&run], 0.0).wind;
    for (column, row) in [
        (2.5, -0.05),
        (-0.05, 3.0),
        (5.05, 2.4),
        (2.5, 5.2),
        (-0.1, -0.1),
        (2.5, 30.0),
    ] {
        assert_eq!(
            gap(&wind(column, row)),
            forecast::Gap::OutsideGrid,
            "{column} {row}"
        );
    }
    for (column, row) in [
        (2.5, 0.0),
        (2.5, 0.05),
        (0.0, 3.0),
        (4.95, 2.4),
        (4.99, 4.99),
        (5.0, 5.0),
    ] {
        assert!(wind(column, row).is_ok(), "{column} {row}");
    }
}

#[test]
fn where_the_nearest_node_is_land_the_windiest_water_node_about_it_counts_with_its_distance() {
    // Rows 0 to 2 are land. Of the thirteen nodes about (2, 2) those two rows north in its own column, and one row north in
    // five columns, are water: the windiest is two rows off, 0.1 degrees, 6.004 nautical miles.
    let run = land_at(turned(), |(row, _)| row <= 2);
    let wind = hour(&off(2.0, 2.0), &[&run], 0.0).wind.expect("known");
    near(wind.value.speed.0, (10.0 + 0.1 * 26.0) * 2_f64.sqrt());
    let offshore = wind.notes.offshore.expect("a distance").0;
    assert!((offshore - 6.004).abs() < 0.02, "found {offshore} nm");
}

#[test]
fn the_account_of_a_wind_says_that_it_was_turned_and_that_of_a_pressure_does_not() {
    let told = |grid: &str, element| {
        let mut run = land_at(turned(), |_| false).constant(Parameter::Pressure, 101_300.0);
        run.slice.grid = grid.into();
        let slices = [run.slice.clone()];
        let conditions = assemble(&off(2.0, 3.0), &[&run]);
        let account = conditions
            .governing()
            .trace(&slices, element, forecast::Member(0), at_h(0.0));
        account
            .steps
            .iter()
            .map(|step| step.turned_to_true_north)
            .collect::<Vec<_>>()
    };
    assert_eq!(
        told("nearest-turned-0123456789abcdef", crate::Element::Wind),
        [true; 2]
    );
    assert_eq!(told("nearest-0123456789abcdef", crate::Element::Wind), [false; 2]);
    assert_eq!(
        told("nearest-turned-0123456789abcdef", crate::Element::Pressure),
        [false]
    );
}

/// Nodes kept for another venue of the club do not serve this one.
#[test]
fn a_place_between_two_kept_blocks_is_outside() {
    let mut run = land_at(turned(), |_| false);
    run.slice
        .nodes
        .retain(|series| series.node.column <= 1 || series.node.column >= 4);
    let wind = |column| hour(&off(column, 2.0), &[&run], 0.0).wind;
    assert!(wind(1.0).is_ok() && wind(4.0).is_ok());
    run.slice
        .nodes
        .retain(|series| series.node.column == 0 || series.node.column == 5);
    let between = hour(&off(2.5, 2.0), &[&run], 0.0).wind;
    assert_eq!(gap(&between), forecast::Gap::OutsideGrid);
}
