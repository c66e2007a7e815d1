//! Messages cut short, with bits turned and octets overwritten: an error or values, but never a panic.
//!
//! No source: common practice. The octets are those of real and invented messages in every packing that is read.

use crate::built::{Built, BuiltField, representation};
use crate::built_grids::{any_grid, any_reduced, grid_of};
use crate::common::{messages, shared};
use forecast::Node;
use grid::{Frame, GridDefinition};
use proptest::prelude::*;
use seaway::LatLon;

/// Small messages of each packing: 5.0, 5.2, 5.3, 5.40, 5.41, 5.42, with and without bitmaps, intervals and members,
/// on grids of every kind but Mercator and reduced ones.
fn originals() -> Option<Vec<Vec<u8>>> {
    let (real, invented) = (shared("grib-real")?, shared("grib-synthetic")?);
    let files = [
        real.join("tigge-ecmwf-pf-20070122-f096.grib2"),
        real.join("gfs-2p50-20111008-f072-multifield.grib2"),
        real.join("gfs-1p00-20190106-f006-uv10-packings.grib2"),
        real.join("nam-awp211-20180917-f000.grib2"),
        real.join("tiggelam-cnmc-20121206-f003-rotated.grib2"),
        real.join("mixed-grids.grib2"),
        invented.join("noaa-gfs/gfs.20300513/00/atmos/gfs.t00z.pgrb2.0p25.f009"),
        invented.join("noaa-gfs/gfs.20300513/00/wave/gridded/gfswave.t00z.global.0p25.f009.grib2"),
        invented.join("dwd/weather/nwp/v1/m/icon-eu/p/U_10M/r/2030-05-13T00:00/s/PT003H00M.grib2"),
        invented.join("ecmwf/20300513/00z/ifs/0p25/wave/20300513000000-96h-wave-fc.grib2"),
    ];
    let read = |path| std::fs::read(path).unwrap();
    let all = files.map(read);
    Some(
        all.iter()
            .flat_map(|bytes| messages(bytes))
            .map(|message| message.bytes.to_vec())
            .collect(),
    )
}

/// Reads whatever can be read of these octets; a few nodes, the last one among them.
fn read_all(bytes: &[u8]) -> usize {
    let mut read = 0;
    for frame in grid::split(bytes) {
        let Frame::Message(message) = frame else { continue };
        for field in grid::read_fields(&message).unwrap_or_default() {
            if field.mesh.is_some() {
                read += usize::from(grid::all_values(&message, &field).is_ok());
            }
            let Some(grid) = &field.grid else { continue };
            let nodes = [
                (0, 0),
                (grid.columns / 2, grid.rows / 2),
                (grid.columns - 1, grid.rows - 1),
            ];
            read += usize::from(grid::values_at(&message, &field, &nodes).is_ok());
            look_about(grid, &nodes);
        }
    }
    read
}

/// Places to nodes and back: whatever section 3 says, what is found is on the Earth and in the grid.
fn look_about(grid: &GridDefinition, nodes: &[(u32, u32)]) {
    for &(column, row) in nodes {
        if grid.storage_index(column, row).is_some() {
            assert_on_earth(grid.node_at(column, row), grid);
            assert!(grid.rotation_at(column, row).is_some(), "{grid:?}");
        }
    }
    for (lat, lon) in [(50.0, -4.0), (90.0, 0.0), (-90.0, 180.0), (0.0, 179.999_999_9)] {
        let place = LatLon::new(lat, lon).unwrap();
        let found = grid.nodes_around(place, 2).into_iter().chain(grid.nearest(place));
        found.for_each(|node| assert_on_earth(node, grid));
        for (corner, weight) in grid
            .cell(place)
            .iter()
            .flat_map(|cell| cell.corners.iter().zip(cell.weights))
        {
            assert_on_earth(*corner, grid);
            assert!((0.0..=1.0).contains(&weight), "{weight} of {grid:?}");
        }
    }
}

fn assert_on_earth(node: Node, grid: &GridDefinition) {
    assert!(
        LatLon::new(node.at.lat, node.at.lon).is_some(),
        "{node:?} of {grid:?}"
    );
    assert!(
        grid.storage_index(node.column, node.row) < Some(grid.points()),
        "{node:?} of {grid:?}"
    );
}

/// Section 3 of every projected, turned and Gaussian kind with some octets of chance in it.
#[test]
fn harmed_grids_never_panic_and_lie_on_the_earth() {
    let section = prop_oneof![
        3 => any_grid().prop_map(|section| section.octets()),
        1 => any_reduced(),
    ];
    let harms = prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..4);
    let config = ProptestConfig {
        cases: 4000,
        failure_persistence: None,
        ..ProptestConfig::default()
    };
    let read = std::cell::Cell::new(0);
    proptest!(config, |(mut section in section, harms in harms)| {
        for (at, octet) in harms {
            let at = at.index(section.len());
            section[at] = octet;
        }
        let Ok(grid) = grid_of(section) else { return Ok(()) };
        read.set(read.get() + 1);
        let nodes = [(0, 0), (grid.columns / 2, grid.rows / 2), (grid.columns - 1, grid.rows - 1)];
        look_about(&grid, &nodes);
    });
    assert!(read.get() > 500, "only {} of the grids could be read", read.get());
}

#[derive(Clone, Debug)]
enum Harm {
    Cut(prop::sample::Index),
    Turn(prop::sample::Index, u8),
    /// In the first octets, where sections 1 to 5 lie and where most numbers are.
    TurnEarly(prop::sample::Index, u8),
    Overwrite(prop::sample::Index, [u8; 4]),
}

fn harms() -> impl Strategy<Value = Vec<Harm>> {
    let index = any::<prop::sample::Index>;
    let harm = prop_oneof![
        1 => index().prop_map(Harm::Cut),
        2 => (index(), 0_u8..8).prop_map(|(at, bit)| Harm::Turn(at, bit)),
        4 => (index(), 0_u8..8).prop_map(|(at, bit)| Harm::TurnEarly(at, bit)),
        2 => (index(), any::<[u8; 4]>()).prop_map(|(at, octets)| Harm::Overwrite(at, octets)),
    ];
    prop::collection::vec(harm, 1..4)
}

fn harmed(original: &[u8], harms: &[Harm]) -> Vec<u8> {
    let mut bytes = original.to_vec();
    for harm in harms {
        if bytes.len() < 20 {
            break;
        }
        match harm {
            Harm::Cut(at) => bytes.truncate(at.index(bytes.len())),
            Harm::Turn(at, bit) => {
                let at = at.index(bytes.len());
                bytes[at] ^= 1 << bit;
            }
            Harm::TurnEarly(at, bit) => {
                let at = at.index(bytes.len().min(260));
                bytes[at] ^= 1 << bit;
            }
            Harm::Overwrite(at, octets) => {
                let at = at.index(bytes.len() - 4);
                bytes[at..at + 4].copy_from_slice(octets);
            }
        }
    }
    bytes
}

#[test]
fn harmed_messages_never_panic() {
    let Some(originals) = originals() else { return };
    assert!(
        originals.iter().all(|original| read_all(original) > 0),
        "each is readable before it is harmed"
    );
    // Half of the rest are large; small ones get through more cases.
    let config = ProptestConfig {
        cases: 1500,
        failure_persistence: None,
        ..ProptestConfig::default()
    };
    let which = any::<prop::sample::Index>();
    proptest!(config, |(which in which, harms in harms())| {
        let original = &originals[which.index(originals.len())];
        read_all(&harmed(original, &harms));
    });
}

#[test]
fn octets_of_chance_never_panic() {
    let config = ProptestConfig {
        cases: 2000,
        failure_persistence: None,
        ..ProptestConfig::default()
    };
    proptest!(config, |(mut bytes in prop::collection::vec(any::<u8>(), 0..300), as_message in any::<bool>())| {
        if as_message && bytes.len() >= 24 {
            let length = bytes.len() as u64;
            bytes[..8].copy_from_slice(b"GRIB\0\0\0\x02");
            bytes[8..16].copy_from_slice(&length.to_be_bytes());
            let end = bytes.len() - 4;
            bytes[end..].copy_from_slice(b"7777");
        }
        read_all(&bytes);
    });
}

// The image has four points; what else it holds may be inflated by whoever shows pictures.
#[test]
fn a_colour_profile_takes_no_memory() {
    const PROFILE: usize = 8 << 20;
    let mut info = png::Info::with_size(4, 1);
    (info.color_type, info.bit_depth) = (png::ColorType::Grayscale, png::BitDepth::Eight);
    info.icc_profile = Some(vec![0; PROFILE].into());
    let mut image = Vec::new();
    let encoder = png::Encoder::with_info(&mut image, info).unwrap();
    encoder
        .write_header()
        .unwrap()
        .write_image_data(&[1, 2, 3, 4])
        .unwrap();
    assert!(image.len() < PROFILE / 50);
    let built = Built::row(
        4,
        BuiltField {
            representation: representation(41, 0.0, 0, 0, 8),
            packed_values: 4,
            bitmap: vec![255],
            data: image,
        },
    );
    let taken = allocation_counter::measure(|| {
        assert_eq!(built.values(0), Ok(vec![Ok(1.0), Ok(2.0), Ok(3.0), Ok(4.0)]));
    });
    assert!(taken.bytes_max < 1 << 20, "{} octets", taken.bytes_max);
}
