//! The nearest cells of a mesh against a search that computes every great-circle distance.
//!
//! Sources: the haversine formula (no source: common practice), on the sphere of `seaway`; geometry of triangles of equal
//! sides worked out beside its check.

use forecast::{Gap, Sample};
use grid::{UnusableCoordinates, nearest_cells};
use proptest::prelude::*;
use seaway::LatLon;

fn place(lat: f64, lon: f64) -> LatLon {
    LatLon::new(lat, lon).unwrap()
}

/// Latitudes and longitudes of a mesh of triangles with sides of 0.1 degrees of latitude, north and east of a corner.
fn triangles(south: f64, west: f64, rows: u32, across: u32) -> (Vec<Sample>, Vec<Sample>) {
    let height = 0.1 * 3_f64.sqrt() / 2.0;
    let cell = |row: u32, index: u32| {
        let third = if (row + index).is_multiple_of(2) { 1.0 } else { 2.0 };
        let lat = south + (f64::from(row) + third / 3.0) * height;
        let lon = west + f64::from(index) * 0.05 / south.to_radians().cos();
        (Ok(lat as f32), Ok(lon as f32))
    };
    (0..rows)
        .flat_map(|row| (0..across).map(move |index| cell(row, index)))
        .unzip()
}

/// Numbers of the cells within a place's reach by great circle, the nearest first.
fn by_great_circle(cells: &(Vec<Sample>, Vec<Sample>), at: LatLon) -> Vec<(f64, u32)> {
    let mut all: Vec<(f64, u32)> = (0..cells.0.len())
        .filter_map(|index| {
            let (lat, lon) = (cells.0[index].ok()?, cells.1[index].ok()?);
            let cell = LatLon::new(f64::from(lat), f64::from(lon))?;
            Some((at.distance(cell).0, index as u32))
        })
        .collect();
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    all
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    /// Anywhere on Earth, over the date line as well: cells scattered about the lattice, some of them without a place.
    #[test]
    fn nearest_cells_are_those_of_a_search_by_great_circle(
        south in -80.0..78.0_f64,
        west in -180.0..360.0_f64,
        jitter in prop::collection::vec((-0.01..0.01_f32, -0.01..0.01_f32, 0_u8..7), 160),
        inside in (0.1..0.6_f64, 0.1..0.9_f64),
        around in 1..20_usize,
    ) {
        let mut cells = triangles(south, west, 8, 20);
        for (index, (north, east, fate)) in jitter.into_iter().enumerate() {
            cells.0[index] = cells.0[index].map(|lat| lat + north);
            // Producers write 0 to 360 or -180 to 180; beyond is no longitude.
            let within = |lon: f32| if lon > 360.0 { lon - 360.0 } else { lon };
            cells.1[index] = cells.1[index].map(|lon| within(lon + east).max(-180.0));
            // Never two neighbours: a wide hole would put the place outside.
            match fate + u8::from(!index.is_multiple_of(3)) * 3 {
                0 => cells.0[index] = Err(Gap::Masked),
                1 => cells.1[index] = Ok(f32::NAN),
                2 => cells.0[index] = Ok(90.5),
                _ => {}
            }
        }
        let at = place(south + inside.0, (west + inside.1 / south.to_radians().cos()).rem_euclid(360.0));
        let found = nearest_cells(&cells.0, &cells.1, &[at], around).unwrap().remove(0);
        let expected = by_great_circle(&cells, at);
        prop_assert_eq!(found.len(), around);
        for (node, (distance, _)) in found.iter().zip(&expected) {
            // Two cells as far as each other may come in either order: their distances are the same.
            prop_assert!((at.distance(node.at).0 - distance).abs() < 1.0e-6);
            prop_assert_eq!(node.row, 0);
            let own = cells.0[node.column as usize].unwrap();
            prop_assert!((node.at.lat - f64::from(own)).abs() < 1.0e-9);
        }
    }
}

#[test]
fn a_place_beyond_one_and_a_half_cell_widths_is_outside() {
    // The westernmost centres lie at 10 E; the area of a triangle with sides of 0.1 degrees is 0.1^2 sqrt 3 / 4 square
    // degrees, its root 0.0658, half as much again 0.0987 degrees.
    let cells = triangles(0.0, 10.0, 8, 20);
    // Row 0 points up at index 0, its centre a third of its height of 0.0866 degrees above the base.
    let beside = |degrees: f64| place(0.0866 / 3.0, 10.0 - degrees);
    let found = nearest_cells(
        &cells.0,
        &cells.1,
        &[beside(0.096), beside(0.101), place(0.3, 10.4)],
        13,
    )
    .unwrap();
    assert_eq!((found[0].len(), found[1].len(), found[2].len()), (13, 0, 13));
    assert_eq!((found[0][0].column, found[0][0].row), (0, 0));
    let few = nearest_cells(&cells.0, &cells.1, &[beside(0.096), beside(0.101)], 1).unwrap();
    assert_eq!(
        (few[0].len(), few[1].len()),
        (1, 0),
        "the width does not hang on how many are asked for"
    );
}

#[test]
fn coordinates_that_tell_no_place_are_told_in_words() {
    let (lat, lon) = triangles(45.0, 10.0, 2, 4);
    let nowhere = [place(45.0, 10.0)];
    assert_eq!(
        nearest_cells(&lat, &lon[1..], &nowhere, 1)
            .unwrap_err()
            .to_string(),
        "8 latitudes and 7 longitudes are not of the same cells"
    );
    for nothing in [Err(Gap::Masked), Ok(f32::NAN), Ok(f32::INFINITY), Ok(9999.0)] {
        assert_eq!(
            nearest_cells(&[nothing; 8], &lon, &nowhere, 1).unwrap_err(),
            UnusableCoordinates::TooFew { cells: 8, usable: 0 }
        );
    }
    assert!(nearest_cells(&[], &[], &nowhere, 13).is_err());
    // All cells at one spot have no width: only that very spot is inside.
    let found = nearest_cells(
        &[Ok(45.0); 8],
        &[Ok(10.0); 8],
        &[place(45.0, 10.0), place(45.0, 10.001)],
        13,
    );
    assert_eq!(found.unwrap().iter().map(Vec::len).collect::<Vec<_>>(), [8, 0]);
}
