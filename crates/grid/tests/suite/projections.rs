//! Where the nodes of projected, turned and Gaussian grids lie, and how their x is turned.
//!
//! Sources: Snyder, USGS Professional Paper 1395 (1987), numerical examples of Lambert conformal (pp. 296) and polar
//! stereographic (p. 317), from memory and the same in PROJ; PROJ 9.5.1 by pyproj 3.7.2; numpy's `leggauss`; Abramowitz and
//! Stegun, table 25.4, from memory.

use crate::built::{Built, only_message, signed_32};
use grid::{Fault, GridDefinition, gaussian_latitude};
use proptest::prelude::*;
use seaway::LatLon;
use seaway::quantity::signed_difference;

/// Section 3 of a grid to be, from octet 6 on; angles in degrees, lengths in metres.
#[derive(Clone, Debug)]
pub struct Section3 {
    pub template: u16,
    pub counts: (u32, u32),
    /// Semi-axes in metres (shape 7).
    pub axes: (f64, f64),
    /// Everything after the counts.
    pub rest: Vec<u8>,
}

const CLARKE_1866: (f64, f64) = (6_378_206.4, 6_356_583.8);
const INTERNATIONAL: (f64, f64) = (6_378_388.0, 6_378_388.0 * (1.0 - 1.0 / 297.0));
const WGS_84: (f64, f64) = (6_378_137.0, 6_356_752.314_2);
const SPHERE: (f64, f64) = (6_371_229.0, 6_371_229.0);

pub fn angle(degrees: f64) -> [u8; 4] {
    signed_32((degrees * 1.0e6).round() as i32)
}

pub fn metres(length: f64) -> [u8; 4] {
    ((length * 1000.0).round() as u32).to_be_bytes()
}

impl Section3 {
    pub fn octets(&self) -> Vec<u8> {
        let (columns, rows) = self.counts;
        let mut octets = vec![0];
        octets.extend((columns.wrapping_mul(rows)).to_be_bytes());
        octets.extend([0, 0]);
        octets.extend(self.template.to_be_bytes());
        octets.extend([7, 0, 0, 0, 0, 0]);
        for axis in [self.axes.0, self.axes.1] {
            octets.push(1);
            octets.extend(((axis * 10.0).round() as u32).to_be_bytes());
        }
        octets.extend(columns.to_be_bytes());
        octets.extend(rows.to_be_bytes());
        octets.extend(&self.rest);
        octets
    }

    pub fn grid(&self) -> Result<GridDefinition, String> {
        grid_of(self.octets())
    }
}

/// The grid of a section 3, given from octet 6 on, or why there is none.
pub fn grid_of(section_3: Vec<u8>) -> Result<GridDefinition, String> {
    let mut built = Built::plain(2, 2, [0; 4], [1_000_000; 2], 0, &[0; 4]);
    built.other_grid = Some(section_3);
    let octets = built.octets();
    let message = only_message(&octets).map_err(|damage| damage.to_string())?;
    let field = grid::read_fields(&message)
        .map_err(|damage| damage.to_string())?
        .remove(0);
    field
        .grid
        .ok_or_else(|| field.refusal.map(|damage| damage.to_string()).unwrap_or_default())
}

/// Templates 3.20 and 3.30 up to the scanning mode: first point, where true, meridian, lengths, centre.
fn on_a_plane(
    first: (f64, f64),
    (true_at, meridian): (f64, f64),
    lengths: (f64, f64),
    tail: [u8; 2],
) -> Vec<u8> {
    let mut rest = [angle(first.0), angle(first.1)].concat();
    rest.push(0x08);
    rest.extend(
        [
            angle(true_at),
            angle(meridian),
            metres(lengths.0),
            metres(lengths.1),
        ]
        .concat(),
    );
    rest.extend(tail);
    rest
}

fn lambert(
    axes: (f64, f64),
    counts: (u32, u32),
    first: (f64, f64),
    (parallels, meridian): ((f64, f64), f64),
    lengths: (f64, f64),
    scanning: u8,
) -> Section3 {
    let mut rest = on_a_plane(first, (parallels.0, meridian), lengths, [0, scanning]);
    rest.extend([angle(parallels.0), angle(parallels.1), [0; 4], [0; 4]].concat());
    Section3 {
        template: 30,
        counts,
        axes,
        rest,
    }
}

fn stereographic(
    axes: (f64, f64),
    counts: (u32, u32),
    first: (f64, f64),
    (true_at, meridian, south): (f64, f64, bool),
    lengths: (f64, f64),
    scanning: u8,
) -> Section3 {
    let tail = [if south { 0x80 } else { 0 }, scanning];
    Section3 {
        template: 20,
        counts,
        axes,
        rest: on_a_plane(first, (true_at, meridian), lengths, tail),
    }
}

fn mercator(
    axes: (f64, f64),
    counts: (u32, u32),
    corners: [f64; 4],
    true_at: f64,
    lengths: (f64, f64),
) -> Section3 {
    let mut rest = [angle(corners[0]), angle(corners[1])].concat();
    rest.push(0);
    rest.extend([angle(true_at), angle(corners[2]), angle(corners[3])].concat());
    rest.push(0x40);
    rest.extend([[0; 4], metres(lengths.0), metres(lengths.1)].concat());
    Section3 {
        template: 10,
        counts,
        axes,
        rest,
    }
}

fn turned(counts: (u32, u32), corners: [f64; 4], south_pole: (f64, f64)) -> Section3 {
    let mut rest = [[0; 4], [255; 4], angle(corners[0]), angle(corners[1])].concat();
    rest.push(0x08);
    rest.extend([angle(corners[2]), angle(corners[3]), [255; 4], [255; 4]].concat());
    rest.push(0x40);
    rest.extend([angle(south_pole.0), angle(south_pole.1), [0; 4]].concat());
    Section3 {
        template: 1,
        counts,
        axes: SPHERE,
        rest,
    }
}

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

/// A global Gaussian grid: regular with so many columns, or of rows of these lengths.
fn gaussian(parallels: u32, columns: u32, lengths: &[u16]) -> Section3 {
    let (first, longest) = (
        gaussian_latitude(parallels, 0),
        lengths.iter().copied().max().map_or(columns, u32::from),
    );
    let last_lon = 360.0 - 360.0 / f64::from(longest);
    let mut rest = [[0; 4], [255; 4], angle(first), [0; 4]].concat();
    rest.push(0x10);
    rest.extend([angle(-first), angle(last_lon), [255; 4], parallels.to_be_bytes()].concat());
    rest.push(0);
    rest.extend(lengths.iter().flat_map(|length| length.to_be_bytes()));
    Section3 {
        template: 40,
        counts: (columns, 2 * parallels),
        axes: SPHERE,
        rest,
    }
}

/// Section 3 from octet 6 on of a Gaussian grid of rows of unequal length.
pub fn any_reduced() -> impl Strategy<Value = Vec<u8>> {
    (1_usize..20)
        .prop_flat_map(|parallels| prop::collection::vec(4_u16..80, 2 * parallels))
        .prop_map(|lengths| {
            let mut octets = gaussian(lengths.len() as u32 / 2, u32::MAX, &lengths).octets();
            let points: u32 = lengths.iter().copied().map(u32::from).sum();
            octets[1..5].copy_from_slice(&points.to_be_bytes());
            octets[5..7].copy_from_slice(&[2, 1]);
            octets
        })
}

/// Grids of every projected and turned kind, of whatever size and place.
pub fn any_grid() -> impl Strategy<Value = Section3> {
    let counts = (2_u32..200, 2_u32..200);
    let place = (-60.0..60.0_f64, -180.0..180.0_f64);
    let lengths = (500.0..20_000.0_f64, 500.0..20_000.0_f64);
    let ellipsoid = prop_oneof![Just(SPHERE), Just(WGS_84), Just(CLARKE_1866)];
    let scanning = prop_oneof![Just(0_u8), Just(0x40), Just(0x80), Just(0xc0)];
    (counts, place, lengths, ellipsoid, scanning, 0..6).prop_map(
        |(counts, first, lengths, axes, scanning, kind)| {
            let south = first.0 < 0.0;
            let parallel = if south { -45.0 } else { 45.0 };
            let meridian = (first.1 + 7.0).rem_euclid(360.0);
            match kind {
                0 => {
                    let parallels = (parallel, parallel / 1.5);
                    lambert(axes, counts, first, (parallels, meridian), lengths, scanning)
                }
                1 => {
                    let centre = (parallel * 1.3, meridian, south);
                    stereographic(axes, counts, first, centre, lengths, scanning)
                }
                2 => turned(counts, [-20.0, -25.0, 15.0, 30.0], (first.0 - 20.0, first.1)),
                3 => {
                    // A cell at the equator is so many degrees; the corner may be two cells off.
                    let far = (first.0 + lengths.1 / 111_000.0, first.1 + lengths.0 / 111_000.0);
                    mercator(axes, (2, 2), [first.0, first.1, far.0, far.1], 20.0, lengths)
                }
                4 => gaussian(counts.1 / 2 + 1, 2 * counts.0, &[]),
                _ => turned(counts, [-70.0, 0.0, 70.0, 180.0], (-(first.0.abs()), first.1)),
            }
        },
    )
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
        }
        prop_assert!(grid.rotation_at(column, row).is_some());
        prop_assert_eq!(grid.rotation_at(grid.columns, row), None);
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
