//! Messages of an unstructured mesh: what their section 3 says, their values by cell, and how they are damaged.
//!
//! Sources: WMO FM 92 GRIB edition 2, template 3.101 (octets 16 to 18 number of grid used, 19 number of grid in reference,
//! 20 to 35 UUID); ../shared/grib-synthetic, written with ecCodes 2.50.

use crate::built::{Built, BuiltField, only_message, representation};
use crate::common::{messages, shared};
use forecast::Gap;
use grid::{FieldHeader, MeshDefinition};

const UUID: [u8; 16] = *b"0123456789abcdef";

/// Section 3 from octet 6 on.
fn mesh_section(cells: u32, uuid: [u8; 16]) -> Vec<u8> {
    let mut octets = vec![0];
    octets.extend(cells.to_be_bytes());
    octets.extend([0, 0, 0, 101, 6, 0, 0, 62, 1]);
    octets.extend(uuid);
    octets
}

/// Four cells, of which the second has no value.
fn four_cells() -> Built {
    let field = BuiltField {
        representation: representation(0, 0.0, 0, 0, 16),
        packed_values: 3,
        bitmap: vec![0, 0b1011_0000],
        data: vec![0, 10, 0, 30, 0, 40],
    };
    let mut built = Built::row(4, field);
    built.other_grid = Some(mesh_section(4, UUID));
    built
}

fn header(built: &Built) -> Result<FieldHeader, grid::Damage> {
    let octets = built.octets();
    Ok(grid::read_fields(&only_message(&octets)?)?.remove(0))
}

#[test]
fn a_mesh_is_known_by_its_uuid_and_count() {
    let header = header(&four_cells()).unwrap();
    let mesh = MeshDefinition {
        number: 62,
        reference: 1,
        uuid: UUID,
        cells: 4,
    };
    assert_eq!(
        (&header.mesh, &header.grid, &header.refusal),
        (&Some(mesh), &None, &None)
    );
    let identity = header.grid_hash().unwrap();
    assert_eq!(identity, "mesh-30313233343536373839616263646566-62-1-4");
    assert!(forecast::mesh::is_mesh(&identity));
}

#[test]
fn values_are_had_by_cell_and_all_in_order() {
    let octets = four_cells().octets();
    let message = only_message(&octets).unwrap();
    let header = &grid::read_fields(&message).unwrap()[0];
    let masked = Err(Gap::Masked);
    let some = grid::values_at(&message, header, &[(3, 0), (1, 0), (0, 0), (4, 0), (0, 1)]).unwrap();
    let outside = Err(Gap::OutsideGrid);
    assert_eq!(some, [Ok(40.0), masked, Ok(10.0), outside, outside]);
    let all = grid::all_values(&message, header).unwrap();
    assert_eq!(all, [Ok(10.0), masked, Ok(30.0), Ok(40.0)]);
}

#[test]
fn what_contradicts_itself_is_damage() {
    let with = |change: fn(&mut Vec<u8>)| {
        let mut built = four_cells();
        change(built.other_grid.as_mut().unwrap());
        built
    };
    let short = with(|octets| octets.truncate(29));
    assert_eq!(
        header(&short).unwrap_err().to_string(),
        "message 1, section 3: too short: 34 octets, octet 35 is needed (at octet 37 of the file)"
    );
    let none = with(|octets| octets[4] = 0);
    assert!(
        header(&none)
            .unwrap_err()
            .to_string()
            .contains("implausible mesh of 0 cells")
    );
    let many = with(|octets| octets[1] = 255);
    assert!(
        header(&many)
            .unwrap_err()
            .to_string()
            .contains("at most 33554432 are read")
    );
    // Two cells of four bits and three values, and twenty cells of one octet of bits.
    for (cells, words) in [
        (2, "3 packed values for 1 points"),
        (20, "a bitmap of 1 octets for 20 points"),
    ] {
        let mut built = four_cells();
        built.other_grid = Some(mesh_section(cells, UUID));
        let octets = built.octets();
        let message = only_message(&octets).unwrap();
        let header = &grid::read_fields(&message).unwrap()[0];
        let found = grid::values_at(&message, header, &[(0, 0)]).unwrap_err();
        assert!(found.to_string().contains(words), "{found}");
        assert_eq!(grid::all_values(&message, header).unwrap_err(), found);
    }
}

#[test]
fn a_mesh_that_cannot_be_told_from_another_is_not_read() {
    for uuid in [[0; 16], [255; 16]] {
        let mut built = four_cells();
        built.other_grid = Some(mesh_section(4, uuid));
        let header = header(&built).unwrap();
        assert_eq!(header.grid_hash(), None);
        assert!(
            header
                .refusal
                .unwrap()
                .to_string()
                .contains("without the mesh's UUID")
        );
    }
}

#[test]
fn runs_on_other_meshes_of_as_many_cells_are_told_apart() {
    let Some(tree) = shared("grib-synthetic/dwd/weather/nwp/v1/m/icon-eu/p") else {
        return;
    };
    let hash = |parameter: &str, run: &str| {
        let path = tree.join(format!("{parameter}/r/2030-05-13T{run}/s/PT000H00M.grib2"));
        let bytes = std::fs::read(path).unwrap();
        grid::read_fields(&messages(&bytes)[0]).unwrap()[0]
            .grid_hash()
            .unwrap()
    };
    // UUIDs as expected_unstructured.csv has them; 24 by 24 pairs of triangles; number as trees.py has it.
    assert_eq!(
        hash("U_10M", "00:00"),
        "mesh-f5e69620b1a173c1f18995343c915789-990062-0-1152"
    );
    assert_eq!(hash("CLAT", "00:00"), hash("U_10M", "00:00"));
    assert_eq!(
        hash("V_10M", "06:00"),
        "mesh-cee507cee672955e9f3d55d35d021265-990062-0-1152"
    );
    assert_eq!(hash("CLON", "06:00"), hash("V_10M", "06:00"));
}
