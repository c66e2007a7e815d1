//! Runs on an unstructured mesh: the nearest cell alone, and outside it nothing.
//!
//! No source: geometry of triangles of equal sides, worked out beside each check; values are invented.

use super::support::*;
use forecast::{Gap, Parameter, Sample};

/// Sides of the triangles, degrees of latitude: 6.004 nautical miles. A cell's width, the root of its area, is 0.658 of
/// that: 3.951 nautical miles.
const SIDE: f64 = 0.1;
const ACROSS: u32 = 10;
const ROWS: u32 = 5;

/// Triangles in strips from 40 N, 10 W: 5 strips of 10, numbered along the strips.
fn centre(cell: u32) -> (f64, f64) {
    let height = SIDE * 3_f64.sqrt() / 2.0;
    let (row, index) = (cell / ACROSS, cell % ACROSS);
    let thirds = if (row + index).is_multiple_of(2) { 1.0 } else { 2.0 };
    let lat = 40.0 + (f64::from(row) + thirds / 3.0) * height;
    let lon = -10.0 + f64::from(index) * SIDE / 2.0 / 40_f64.to_radians().cos();
    (lat, lon)
}

/// A run whose nodes are those cells; all fields are then by (0, cell).
fn mesh() -> Run {
    let mut run = Run::new("gfs", 1, ROWS * ACROSS, 1, &[0, 3]);
    run.slice.grid = "mesh-000102030405060708090a0b0c0d0e0f-62-1-50".into();
    for series in &mut run.slice.nodes {
        let (lat, lon) = centre(series.node.column);
        series.node.at = place(lat, lon);
    }
    run
}

/// The wind blows from the south-west by the components; 10 kn and a tenth for each cell's number on both axes.
fn windy() -> Run {
    let component =
        |(_, cell): (u32, u32), _: usize, _: usize| Ok(((10.0 + 0.1 * f64::from(cell)) * MS) as f32);
    mesh()
        .field(Parameter::WindU, component)
        .field(Parameter::WindV, component)
}

fn land_at(run: Run, is_land: impl Fn(u32) -> bool) -> Run {
    run.field(Parameter::LandShare, |(_, cell), _, _| {
        Ok(if is_land(cell) { 1.0 } else { 0.0 })
    })
}

/// A venue so many degrees north and east of a cell's centre.
fn off(cell: u32, north: f64, east: f64) -> club::model::Venue {
    let (lat, lon) = centre(cell);
    venue(&[(lat + north, lon + east)])
}

#[test]
fn the_nearest_cell_gives_its_value_unmixed_and_unturned() {
    let wind = hour(&off(25, 0.01, 0.01), &[&land_at(windy(), |_| false)], 0.0)
        .wind
        .expect("known");
    // u = v = 12.5 kn: from the south-west at 12.5 times the root of two.
    near(wind.value.speed.0, 12.5 * 2_f64.sqrt());
    near(wind.value.from.degrees(), 225.0);
    assert!(wind.notes.offshore.is_none() && !wind.notes.no_land_mask);
}

#[test]
fn a_nearest_cell_that_is_missing_is_not_replaced_by_its_neighbour() {
    let mut run = land_at(windy(), |_| false);
    for field in &mut run.slice.nodes[25].fields {
        if field.parameter == Parameter::WindV {
            field.samples.fill(Err(Gap::Damaged));
        }
    }
    assert_eq!(gap(&hour(&off(25, 0.0, 0.0), &[&run], 0.0).wind), Gap::Damaged);
}

#[test]
fn beyond_one_and_a_half_cell_widths_is_outside() {
    // 1.5 widths are 5.926 nautical miles, 0.0987 degrees of latitude; cell 4 is of the southernmost strip and points up.
    let run = land_at(windy(), |_| false);
    near(
        hour(&off(4, -0.097, 0.0), &[&run], 0.0)
            .wind
            .expect("known")
            .value
            .speed
            .0,
        10.4 * 2_f64.sqrt(),
    );
    assert_eq!(
        gap(&hour(&off(4, -0.1, 0.0), &[&run], 0.0).wind),
        Gap::OutsideGrid
    );
}

#[test]
fn cells_kept_for_another_venue_do_not_serve_this_one() {
    // 40 km are 0.36 degrees.
    let run = land_at(windy(), |_| false);
    assert_eq!(
        gap(&hour(&off(45, 0.36, 0.0), &[&run], 0.0).wind),
        Gap::OutsideGrid
    );
    let mut few = land_at(windy(), |_| false);
    few.slice.nodes.truncate(2);
    assert_eq!(gap(&hour(&off(0, 0.0, 0.0), &[&few], 0.0).wind), Gap::OutsideGrid);
}

#[test]
fn where_the_nearest_cell_is_land_the_windiest_water_cell_about_it_counts_with_its_distance() {
    // The strip of cell 25 (20 to 29) and the southern ones are land: water is north of it, and the windiest of the cells
    // about it has the highest number. Cells that share a corner with cell 25 (which points down, its base on the strip
    // north of it) are 33 to 37, and 37 lies beside the base's eastern corner: two thirds of a height and 0.1 degrees of
    // equal-sided geometry away, by the law of cosines 0.1 x root of (1 + 1/3) = 0.1155 degrees, 6.933 nautical miles.
    let run = land_at(windy(), |cell| cell < 30);
    let wind = hour(&off(25, 0.0, 0.0), &[&run], 0.0).wind.expect("known");
    near(wind.value.speed.0, 13.7 * 2_f64.sqrt());
    let offshore = wind.notes.offshore.expect("a distance").0;
    assert!((offshore - 6.933).abs() < 0.02, "found {offshore} nm");
}

#[test]
fn all_cells_about_being_land_is_missing() {
    let run = land_at(windy(), |_| true);
    assert_eq!(gap(&hour(&off(25, 0.0, 0.0), &[&run], 0.0).wind), Gap::NoWater);
}

#[test]
fn a_masked_rim_is_missing_where_no_land_mask_matters() {
    let masked: Sample = Err(Gap::Masked);
    let run = mesh().field(Parameter::AirTemperature, |(_, cell), _, _| {
        if cell == 25 { masked } else { Ok(288.15) }
    });
    assert_eq!(gap(&hour(&off(25, 0.0, 0.0), &[&run], 0.0).air), Gap::Masked);
}
