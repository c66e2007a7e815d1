//! In the child: the cells of an unstructured mesh nearest to places, and that what belongs together lies on one mesh.
//!
//! Must not know: who keeps the cells, and for how long; the mesh's identity goes with them and is checked here each time.

use super::protocol::DecodedValues;
use super::worker::the_only_message;
use grid::mesh::{LATITUDE_CODES, LONGITUDE_CODES};
use grid::{Damage, Fault, FieldHeader, GridDefinition, Message};
use seaway::LatLon;

/// The grid of a field.
///
/// # Errors
/// The field lies on a mesh: where its cells lie has to be found first, by [`nearest`].
pub(super) fn grid<'a>(message: &Message<'_>, header: &'a FieldHeader) -> Result<&'a GridDefinition, Damage> {
    let why = match (&header.grid, &header.mesh) {
        (Some(grid), _) => return Ok(grid),
        (None, Some(mesh)) => Fault::NoCoordinates {
            uuid: mesh.uuid_digits(),
            cells: mesh.cells,
        },
        (None, None) => Fault::Contradiction("no grid is known".to_owned()),
    };
    Err(of_section_3(message, header, why))
}

/// That a field lies on this grid and no other.
pub(super) fn check_grid(message: &Message<'_>, header: &FieldHeader, grid: &str) -> Result<(), Damage> {
    let own = header.grid_hash().unwrap_or_default();
    if own == grid {
        return Ok(());
    }
    let why = Fault::OtherMesh {
        message: own,
        coordinates: grid.to_owned(),
    };
    Err(of_section_3(message, header, why))
}

/// The cells nearest to each place, from a field of latitudes and a message of longitudes of the same mesh.
pub(super) fn nearest(
    message: &Message<'_>,
    header: &FieldHeader,
    longitude: &[u8],
    places: &[LatLon],
    around: usize,
) -> Result<DecodedValues, Damage> {
    let of_longitudes = |damage: Damage| {
        let words = format!("the message of longitudes: {damage}");
        whole_field(message, header, Fault::Contradiction(words))
    };
    let second = the_only_message(longitude, message.number).map_err(of_longitudes)?;
    let fields = grid::read_fields(&second).map_err(of_longitudes)?;
    let [second_header] = fields.as_slice() else {
        let words = format!("{} fields of longitudes, one is wanted", fields.len());
        return Err(whole_field(message, header, Fault::Contradiction(words)));
    };
    if header.mesh.is_none() {
        let words = "latitudes of a grid that is no unstructured mesh".to_owned();
        return Err(of_section_3(message, header, Fault::Contradiction(words)));
    }
    check_codes(message, header, LATITUDE_CODES)?;
    check_codes(&second, second_header, LONGITUDE_CODES).map_err(of_longitudes)?;
    check_grid(message, header, &second_header.grid_hash().unwrap_or_default())?;
    let latitudes = grid::all_values(message, header)?;
    let longitudes = grid::all_values(&second, second_header).map_err(of_longitudes)?;
    grid::nearest_cells(&latitudes, &longitudes, places, around)
        .map(DecodedValues::NearestCells)
        .map_err(|why| whole_field(message, header, Fault::Contradiction(why.to_string())))
}

fn check_codes(message: &Message<'_>, header: &FieldHeader, wanted: [u8; 3]) -> Result<(), Damage> {
    let found = [header.discipline, header.category, header.number];
    if found == wanted {
        return Ok(());
    }
    let words = |[discipline, category, number]: [u8; 3]| format!("{discipline}/{category}/{number}");
    let words = format!("{} where {} is wanted", words(found), words(wanted));
    Err(whole_field(message, header, Fault::Contradiction(words)))
}

fn of_section_3(message: &Message<'_>, header: &FieldHeader, what: Fault) -> Damage {
    Damage {
        section: Some(3),
        ..whole_field(message, header, what)
    }
}

fn whole_field(message: &Message<'_>, header: &FieldHeader, what: Fault) -> Damage {
    Damage {
        message: Some(message.number),
        section: None,
        field: Some(header.field),
        offset: message.offset,
        what,
    }
}
