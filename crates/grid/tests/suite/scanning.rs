//! One field laid down in every scanning mode says the same at every place.
//!
//! Source: flag table 3.4 of WMO FM 92 GRIB edition 2, written down here a second time from its words.

use crate::built::{Built, only_message};
use crate::common::value_at;
use forecast::{Gap, Sample};
use proptest::prelude::*;
use seaway::LatLon;

/// A field by row from south to north and column from west to east.
#[derive(Clone, Debug)]
struct Field {
    columns: u32,
    rows: u32,
    south: i32,
    west: i32,
    values: Vec<u16>,
}

/// Degrees from node to node, in millionths.
const STEP: i32 = 500_000;

impl Field {
    fn laid_down(&self, scanning: u8, west_as_written: i32) -> Built {
        let (columns, rows) = (self.columns as i32, self.rows as i32);
        let (runs_west, runs_north) = (scanning & 0x80 != 0, scanning & 0x40 != 0);
        let (by_column, alternating) = (scanning & 0x20 != 0, scanning & 0x10 != 0);
        let (lines, length) = if by_column {
            (columns, rows)
        } else {
            (rows, columns)
        };
        let mut stored = Vec::new();
        for line in 0..lines {
            for at in 0..length {
                let along = if alternating && line % 2 == 1 {
                    length - 1 - at
                } else {
                    at
                };
                let (column, row) = if by_column { (line, along) } else { (along, line) };
                let east = if runs_west { columns - 1 - column } else { column };
                let north = if runs_north { row } else { rows - 1 - row };
                stored.push(self.values[(north * columns + east) as usize]);
            }
        }
        let (north, east) = (
            self.south + (rows - 1) * STEP,
            west_as_written + (columns - 1) * STEP,
        );
        let (first_lat, last_lat) = if runs_north {
            (self.south, north)
        } else {
            (north, self.south)
        };
        let (first_lon, last_lon) = if runs_west {
            (east, west_as_written)
        } else {
            (west_as_written, east)
        };
        let steps = [STEP as u32; 2];
        Built::plain(
            self.columns,
            self.rows,
            [first_lat, first_lon, last_lat, last_lon],
            steps,
            scanning,
            &stored,
        )
    }
}

fn found(built: &Built, place: LatLon) -> (Sample, Sample) {
    let octets = built.octets();
    let message = only_message(&octets).unwrap();
    value_at(&message, &grid::read_fields(&message).unwrap()[0], place).unwrap()
}

fn fields() -> impl Strategy<Value = Field> {
    (1_u32..7, 1_u32..7, -60_i32..60, -179_i32..179).prop_flat_map(|(columns, rows, south, west)| {
        prop::collection::vec(0_u16..1000, (columns * rows) as usize).prop_map(move |values| Field {
            columns,
            rows,
            south: south * 1_000_000,
            west: west * 1_000_000,
            values,
        })
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, ..ProptestConfig::default() })]

    #[test]
    fn every_scanning_mode_says_the_same(field in fields(), x in -0.2_f64..1.2, y in -0.2_f64..1.2) {
        // Ties between two nodes may fall either way, so the middle of a cell is left out.
        prop_assume!(![x * f64::from(field.columns - 1), y * f64::from(field.rows - 1)]
            .iter().any(|at| (at - at.floor() - 0.5).abs() < 1.0e-4));
        let degrees = |from: i32, part: f64, count: u32| (f64::from(from) + part * f64::from(STEP) * f64::from(count - 1)) / 1.0e6;
        let place = LatLon::new(degrees(field.south, y, field.rows), degrees(field.west, x, field.columns)).unwrap();
        let inside = |part: f64, count: u32| count > 1 && (0.0..=1.0).contains(&part) || count == 1;
        let expected = found(&field.laid_down(0, field.west), place);
        prop_assert_eq!(expected.0.is_ok(), inside(x, field.columns) && inside(y, field.rows));
        for high_bits in 0..16_u8 {
            for turn in [0, 360_000_000] {
                let (nearest, bilinear) = found(&field.laid_down(high_bits << 4, field.west + turn), place);
                prop_assert_eq!(nearest, expected.0, "mode {:#x}", high_bits << 4);
                match (bilinear, expected.1) {
                    (Ok(found), Ok(expected)) => prop_assert!((found - expected).abs() <= 1.0e-3),
                    (found, expected) => prop_assert_eq!(found, expected),
                }
            }
        }
    }
}

/// A global grid of 30 degrees whose value is the number of the column counted east from Greenwich.
fn global(first_lon: i32, runs_west: bool) -> Built {
    let stored: Vec<u16> = (0..24)
        .map(|at| {
            let along = if runs_west { -(at % 12) } else { at % 12 };
            (first_lon / 30_000_000 + along).rem_euclid(12) as u16
        })
        .collect();
    let last_lon = first_lon + if runs_west { -330_000_000 } else { 330_000_000 };
    let scanning = if runs_west { 0x80 } else { 0 };
    Built::plain(
        12,
        2,
        [10_000_000, first_lon, -10_000_000, last_lon],
        [30_000_000, 20_000_000],
        scanning,
        &stored,
    )
}

#[test]
fn a_global_grid_goes_on_at_the_meridian_it_begins_at() {
    for built in [
        global(0, false),
        global(-180_000_000, false),
        global(180_000_000, false),
        global(330_000_000, true),
        global(150_000_000, true),
    ] {
        for (lon, nearest, between) in [
            (345.0, None, 5.5),
            (-15.0, None, 5.5),
            (351.0, Some(0.0), 3.3),
            (175.0, Some(6.0), 35.0 / 6.0),
            (-175.0, Some(6.0), 37.0 / 6.0),
        ] {
            let (found_nearest, bilinear) = found(&built, LatLon::new(0.0, lon).unwrap());
            assert!(
                (bilinear.unwrap() - between as f32).abs() < 1.0e-4,
                "{bilinear:?} at {lon} of {built:?}"
            );
            if let Some(nearest) = nearest {
                assert_eq!(found_nearest, Ok(nearest));
            }
        }
    }
}

#[test]
fn nodes_around_are_clipped_at_edges_and_go_on_round_the_earth() {
    let header = |built: &Built| {
        let octets = built.octets();
        grid::read_fields(&only_message(&octets).unwrap()).unwrap()[0]
            .grid
            .clone()
            .unwrap()
    };
    let place = |lat, lon| LatLon::new(lat, lon).unwrap();
    let regional = header(&Built::plain(
        6,
        6,
        [0, 0, 2_500_000, 2_500_000],
        [500_000; 2],
        0x40,
        &[0; 36],
    ));
    let names = |grid: &grid::GridDefinition, at, ring| {
        grid.nodes_around(at, ring)
            .iter()
            .map(|node| (node.column, node.row))
            .collect::<Vec<_>>()
    };
    assert_eq!(
        names(&regional, place(1.1, 1.1), 0),
        [(2, 2), (3, 2), (2, 3), (3, 3)]
    );
    assert_eq!(names(&regional, place(1.1, 1.1), 1).len(), 16);
    assert_eq!(names(&regional, place(0.1, 0.1), 1).len(), 9);
    assert_eq!(
        names(&regional, place(2.5, 2.5), 1),
        [(4, 4), (5, 4), (4, 5), (5, 5)]
    );
    assert!(names(&regional, place(2.6, 1.0), 3).is_empty());
    let global = header(&global(0, false));
    assert_eq!(
        names(&global, place(0.0, -10.0), 1),
        [10, 11, 0, 1]
            .map(|column| (column, 0))
            .into_iter()
            .chain([10, 11, 0, 1].map(|column| (column, 1)))
            .collect::<Vec<_>>()
    );
    let mut all = names(&global, place(0.0, 0.0), 40);
    all.sort_unstable();
    all.dedup();
    assert_eq!(all.len(), 24);
}

#[test]
fn outside_a_grid_there_is_nothing() {
    let built = Built::plain(2, 2, [0, 0, 500_000, 500_000], [500_000; 2], 0x40, &[1, 2, 3, 4]);
    for (lat, lon) in [(0.51, 0.2), (-0.01, 0.2), (0.2, 0.51), (0.2, -0.01), (0.2, 180.0)] {
        let outside = (Err(Gap::OutsideGrid), Err(Gap::OutsideGrid));
        assert_eq!(found(&built, LatLon::new(lat, lon).unwrap()), outside);
    }
    assert_eq!(found(&built, LatLon::new(0.5, -359.5).unwrap()).1, Ok(4.0));
}
