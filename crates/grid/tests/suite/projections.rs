//! Where the nodes of projected, turned and Gaussian grids lie, and how their x is turned.
//!
//! Sources: Snyder, USGS Professional Paper 1395 (1987), numerical examples of Lambert conformal (pp. 296) and polar
//! stereographic (p. 317), from memory and the same in PROJ; PROJ 9.5.1 by pyproj 3.7.2; numpy's `leggauss`; Abramowitz and
//! Stegun, table 25.4, from memory.

use crate::built_grids::{
    CLARKE_1866, INTERNATIONAL, SPHERE, Section3, WGS_84, any_grid, any_reduced, grid_of, lambert, mercator,
    stereographic, turned,
};
use grid::{Fault, gaussian_latitude};
use proptest::prelude::*;
use seaway::LatLon;
use seaway::quantity::signed_difference;

fn assert_node(section: &Section3, (column, row): (u32, u32), (lat, lon): (f64, f64), rotation: f64) {
    let grid = section.grid().unwrap();
    let at = grid.node_at(column, row).at;
    // Lengths are stored in millimetres and places in millionths of a degree.
    assert!(
        (at.lat - lat).abs() < 2.0e-6 && signed_difference(at.lon, lon).abs() < 2.0e-6,
        "{at:?}, expected {lat} {lon} of {section:?}"
    );
    let found = grid.rotation_at(column, row).unwrap();
    assert!((found - rotation).abs() < 1.0e-5, "{found}, expected {rotation}");
}

#[test]
fn lambert_nodes_lie_where_snyder_and_proj_put_them() {
    // Snyder: x 1,894,410.9 and y 1,564,649.5 for 35 N 75 W; PROJ's convergence is 13.240426 (clockwise).
    let example = lambert(
        CLARKE_1866,
        (2, 2),
        (23.0, -96.0),
        ((33.0, 45.0), -96.0),
        (1_894_410.898, 1_564_649.478),
        0x40,
    );
    assert_node(&example, (1, 1), (35.0, -75.0), -13.240_426);
    // PROJ: lcc, lat_1=-30 lat_2=-45 lon_0=140, WGS 84; from 20 S 110 E to 47 S 175 E.
    let southern = lambert(
        WGS_84,
        (3, 2),
        (-20.0, 110.0),
        ((-30.0, -45.0), 140.0),
        (2_907_039.190_5, 2_981_158.358_9),
        0,
    );
    assert_node(&southern, (2, 1), (-47.0, 175.0), 21.369_087);
    assert_node(&southern, (0, 0), (-20.0, 110.0), -18.316_360);
    // PROJ: lcc, lat_1=lat_2=25 lon_0=-95, sphere.
    let one_parallel = lambert(
        SPHERE,
        (2, 2),
        (12.19, -133.459),
        ((25.0, 25.0), -95.0),
        (812_709.972_9, 2_275_587.987_8),
        0x40,
    );
    assert_node(&one_parallel, (1, 1), (33.734_503, -131.927_57), 15.606_265);
}

#[test]
fn stereographic_nodes_lie_where_snyder_and_proj_put_them() {
    // Snyder: x -1,540,033.6 and y -560,526.4 for 75 S 150 E, lengths true at 71 S, y along 100 W.
    let example = stereographic(
        INTERNATIONAL,
        (2, 2),
        (-90.0, 0.0),
        (-71.0, -100.0, true),
        (1_540_033.610_5, 560_526.394),
        0x80,
    );
    assert_node(&example, (1, 1), (-75.0, 150.0), -110.0);
    // PROJ: stere, lat_0=90 lat_ts=60 lon_0=249, sphere; from 32.5 N 134.6 W to 75 N 20 E.
    let northern = stereographic(
        SPHERE,
        (2, 3),
        (32.5, -134.6),
        (60.0, 249.0, false),
        (3_792_532.175_9, 3_501_901.579_6),
        0x40,
    );
    assert_node(&northern, (1, 2), (75.0, 20.0), -131.0);
    // PROJ: stere, lat_0=90 lat_ts=90 lon_0=-45, WGS 84; from 70 N 45 W to 60 N 100 E.
    let at_the_pole = stereographic(
        WGS_84,
        (2, 3),
        (70.0, -45.0),
        (90.0, -45.0, false),
        (1_965_324.873_7, 2_531_350.061),
        0x40,
    );
    assert_node(&at_the_pole, (1, 2), (60.0, 100.0), -145.0);
}

#[test]
fn mercator_and_turned_nodes_lie_where_proj_puts_them() {
    // PROJ: merc, lat_ts=20, Clarke 1866: 35 N 30 E.
    let lengths = (3_139_460.398_9, 3_891_065.379_4);
    let example = mercator(CLARKE_1866, (2, 2), [0.0, 0.0, 35.0, 30.0], 20.0, lengths);
    assert_node(&example, (1, 1), (35.0, 30.0), 0.0);
    // PROJ: ob_tran of longlat, o_lat_p=40 lon_0=10, at turned 16.125 E 9.75 N.
    let corner = turned((2, 2), [-16.125, -15.75, 9.75, 16.125], (-40.0, 10.0))
        .grid()
        .unwrap()
        .node_at(1, 1)
        .at;
    assert!(
        (corner.lat - 56.525_682_258_190_955).abs() < 1.0e-12,
        "{corner:?}"
    );
    assert!(
        (corner.lon - 39.753_294_857_679_656).abs() < 1.0e-12,
        "{corner:?}"
    );
}

#[test]
fn gaussian_latitudes_are_the_published_ones() {
    // Abramowitz and Stegun, table 25.4, n = 8.
    let roots = [
        0.960_289_856_497_536,
        0.796_666_477_413_627,
        0.525_532_409_916_329,
        0.183_434_642_495_650,
    ];
    for (index, root) in (0..).zip(roots) {
        let found = gaussian_latitude(4, index).to_radians().sin();
        assert!((found - root).abs() < 2.0e-15, "{found} {root}");
        assert_eq!(gaussian_latitude(4, 7 - index), -gaussian_latitude(4, index));
    }
    // numpy.polynomial.legendre.leggauss.
    for (parallels, index, latitude) in [
        (47, 0, 88.541_950_137_297_53),
        (47, 23, 44.761_109_527_370_79),
        (200, 0, 89.655_964_246_869_86),
        (200, 199, 0.224_718_925_999_733_45),
        (1280, 1, 89.876_478_353_332_29),
        (1280, 640, 44.956_062_178_163_634),
    ] {
        let found = gaussian_latitude(parallels, index);
        assert!((found - latitude).abs() < 1.0e-11, "{found} {latitude}");
    }
}

#[test]
fn what_cannot_be_on_the_earth_is_refused_in_words() {
    let plane = |parallels| {
        lambert(
            SPHERE,
            (2, 2),
            (40.0, 0.0),
            (parallels, 0.0),
            (1000.0, 1000.0),
            0x40,
        )
    };
    let wide = lambert(
        SPHERE,
        (30, 30),
        (40.0, 0.0),
        ((50.0, 50.0), 0.0),
        (4.0e6, 4.0e6),
        0x40,
    );
    let at_pole = mercator(SPHERE, (2, 2), [89.95, 0.0, 89.96, 1.0], 20.0, (1.0e4, 1.0e4));
    let other_last = mercator(SPHERE, (2, 2), [10.0, 0.0, 20.0, 50.0], 20.0, (1.0e4, 1.0e4));
    let moon = lambert(
        (1_737_400.0, 1_737_400.0),
        (2, 2),
        (40.0, 0.0),
        ((50.0, 50.0), 0.0),
        (1.0e4, 1.0e4),
        0x40,
    );
    for (section, words) in [
        (plane((30.0, -30.0)), "make no cone"),
        (plane((90.0, 40.0)), "make no cone"),
        (plane((0.0, 0.0)), "make no cone"),
        (wide, "beyond the edge"),
        (at_pole, "on no Mercator map"),
        (other_last, "the last point disagree"),
        (moon, "are not the Earth's"),
    ] {
        let found = section.grid().unwrap_err();
        assert!(found.contains(words), "{found}, expected {words}");
    }
    let mut tilted = turned((2, 2), [0.0, 0.0, 1.0, 1.0], (-40.0, 10.0));
    let end = tilted.rest.len();
    tilted.rest[end - 4..].copy_from_slice(&30_f32.to_be_bytes());
    let words = Fault::UnsupportedFeature("template 3.1 with an angle of rotation".to_owned()).to_string();
    assert!(tilted.grid().unwrap_err().starts_with(&words));
}

/// No source: a node lies where it is found.
#[test]
fn a_node_is_found_at_its_own_place_and_a_place_between_its_nodes() {
    let config = ProptestConfig {
        cases: 600,
        failure_persistence: None,
        ..ProptestConfig::default()
    };
    let share = any::<prop::sample::Index>;
    proptest!(config, |(section in any_grid(), across in share(), down in share())| {
        let grid = section.grid().unwrap();
        let (column, row) = (across.index(grid.columns as usize) as u32, down.index(grid.rows as usize) as u32);
        let node = grid.node_at(column, row);
        prop_assert_eq!(grid.nearest(node.at).map(|found| (found.column, found.row)), Some((column, row)));
        let cell = grid.cell(node.at).unwrap();
        prop_assert_eq!(cell.weights, [1.0, 0.0, 0.0, 0.0]);
        // Half way to the next node of the diagonal, by the weights as by their sum.
        let (next, below) = ((column + 1).min(grid.columns - 1), (row + 1).min(grid.rows - 1));
        let other = grid.node_at(next, below).at;
        let between = LatLon {
            lat: (node.at.lat + other.lat) / 2.0,
            lon: signed_difference(0.0, node.at.lon + signed_difference(node.at.lon, other.lon) / 2.0),
        };
        if let Some(cell) = grid.cell(between) {
            let sum: f64 = cell.weights.iter().sum();
            prop_assert!((sum - 1.0).abs() < 1.0e-12 && cell.weights.iter().all(|weight| (0.0..=1.0).contains(weight)));
            for corner in cell.corners {
                prop_assert_eq!(corner, grid.node_at(corner.column, corner.row));
            }
        }
        prop_assert!(grid.rotation_at(column, row).is_some());
        prop_assert_eq!(grid.rotation_at(grid.columns, row), None);
    });
}

/// Source: a turn of the axes changes no length and is undone by the turn back. No source: what has one component has none.
#[test]
fn a_wind_is_as_strong_after_it_was_turned_to_true_north() {
    let config = ProptestConfig {
        cases: 600,
        failure_persistence: None,
        ..ProptestConfig::default()
    };
    let share = any::<prop::sample::Index>;
    let component = || -80.0_f32..80.0;
    proptest!(config, |(section in any_grid(), across in share(), down in share(), x in component(), y in component())| {
        let grid = section.grid().unwrap();
        let name = (across.index(grid.columns as usize) as u32, down.index(grid.rows as usize) as u32);
        let [Ok(east), Ok(north)] = grid.true_components(name, Ok(x), Ok(y)) else {
            return Err(TestCaseError::fail("a component is missing"));
        };
        let speed = |x: f32, y: f32| f64::from(x).hypot(y.into());
        prop_assert!((speed(east, north) - speed(x, y)).abs() < 1.0e-4);
        let turn = if grid.turns_vectors() { grid.rotation_at(name.0, name.1).unwrap() } else { 0.0 };
        let (sin, cos) = turn.to_radians().sin_cos();
        let (east, north) = (f64::from(east), f64::from(north));
        prop_assert!((east * cos + north * sin - f64::from(x)).abs() < 1.0e-4);
        prop_assert!((north * cos - east * sin - f64::from(y)).abs() < 1.0e-4);
        let masked = Err(forecast::Gap::Masked);
        if grid.turns_vectors() {
            prop_assert_eq!(grid.true_components(name, Ok(x), masked), [masked; 2]);
            prop_assert_eq!(grid.true_components(name, masked, Ok(y)), [masked; 2]);
        }
    });
}

/// No source: of rows of unequal length each node is the nearest to its own place, and each has a value of its own.
#[test]
fn a_node_of_a_reduced_grid_is_the_nearest_to_its_place_and_there_are_no_cells() {
    let config = ProptestConfig {
        cases: 200,
        failure_persistence: None,
        ..ProptestConfig::default()
    };
    proptest!(config, |(octets in any_reduced())| {
        let grid = grid_of(octets).unwrap();
        let mut stored = Vec::new();
        for row in 0..grid.rows {
            for column in (0..grid.columns).filter(|&column| grid.storage_index(column, row).is_some()) {
                stored.extend(grid.storage_index(column, row));
                let node = grid.node_at(column, row);
                prop_assert_eq!(grid.nearest(node.at), Some(node));
                prop_assert!(grid.nodes_around(node.at, 0).contains(&node));
                prop_assert_eq!(grid.cell(node.at), None);
            }
        }
        prop_assert_eq!(stored, (0..grid.points()).collect::<Vec<_>>());
    });
}
