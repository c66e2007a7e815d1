//! Section 3 of projected, turned and Gaussian grids, built octet by octet (WMO FM 92 GRIB edition 2, templates 3.1 to 3.40).

use crate::built::{Built, only_message, signed_32};
use grid::{GridDefinition, gaussian_latitude};
use proptest::prelude::*;

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

pub const CLARKE_1866: (f64, f64) = (6_378_206.4, 6_356_583.8);
pub const INTERNATIONAL: (f64, f64) = (6_378_388.0, 6_378_388.0 * (1.0 - 1.0 / 297.0));
pub const WGS_84: (f64, f64) = (6_378_137.0, 6_356_752.314_2);
pub const SPHERE: (f64, f64) = (6_371_229.0, 6_371_229.0);

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
pub fn on_a_plane(
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

pub fn lambert(
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

pub fn stereographic(
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

pub fn mercator(
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

pub fn turned(counts: (u32, u32), corners: [f64; 4], south_pole: (f64, f64)) -> Section3 {
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

/// A global Gaussian grid: regular with so many columns, or of rows of these lengths.
pub fn gaussian(parallels: u32, columns: u32, lengths: &[u16]) -> Section3 {
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
