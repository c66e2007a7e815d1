//! Names and units of the quantities this project meets (WMO FM 92 GRIB edition 2, code table 4.2) for people who read
//! a listing. Nothing is chosen by a name: the numbers choose.

/// Name and unit of a quantity by discipline, category and number; none where this table has no entry.
pub fn quantity(discipline: u8, category: u8, number: u8) -> Option<(&'static str, &'static str)> {
    QUANTITIES
        .iter()
        .find(|entry| (entry.0, entry.1, entry.2) == (discipline, category, number))
        .map(|entry| (entry.3, entry.4))
}

/// Whether a quantity is one component of a vector whose direction the message gives by flag table 3.3, bit 5: wind and
/// current.
pub fn is_vector_component(discipline: u8, category: u8, number: u8) -> bool {
    matches!((discipline, category), (0, 2) | (10, 1)) && matches!(number, 2 | 3)
}

/// What a value is where it is not the quantity itself as one forecast has it (code table 4.0); none where it is.
pub fn not_the_quantity_itself(product_template: u16) -> Option<&'static str> {
    match product_template {
        0 | 1 | 8 | 11 => None,
        2 | 12 => Some("derived from all members"),
        5 | 9 => Some("probability"),
        6 | 10 => Some("percentile"),
        103 => Some("of a range of wave periods"),
        _ => Some("of another kind"),
    }
}

/// What a template is that is not read, in brackets after a space: the grids of code table 3.1 by name; nothing of others.
pub(crate) fn of_unread_template(table: u8, template: u16) -> &'static str {
    match (table, template) {
        (3, 2) => " (stretched latitude-longitude)",
        (3, 3) => " (stretched and rotated latitude-longitude)",
        (3, 4) => " (variable resolution latitude-longitude)",
        (3, 5) => " (variable resolution rotated latitude-longitude)",
        (3, 12) => " (transverse Mercator)",
        (3, 31) => " (Albers equal area)",
        (3, 41) => " (rotated Gaussian)",
        (3, 42) => " (stretched Gaussian)",
        (3, 43) => " (stretched and rotated Gaussian)",
        (3, 50..=53) => " (spherical harmonics)",
        (3, 90) => " (space view)",
        (3, 100) => " (triangles of an icosahedron)",
        (3, 140) => " (Lambert azimuthal equal area)",
        (3, 150) => " (HEALPix)",
        _ => "",
    }
}

/// Code table 4.2, github.com/wmo-im/GRIB2 tag v37. Where the table's unit is written out (`degree true`), so it is here.
const QUANTITIES: [(u8, u8, u8, &str, &str); 39] = [
    (0, 0, 0, "temperature", "K"),
    (0, 0, 4, "maximum temperature", "K"),
    (0, 0, 5, "minimum temperature", "K"),
    (0, 0, 6, "dewpoint temperature", "K"),
    (0, 0, 17, "skin temperature", "K"),
    (0, 1, 1, "relative humidity", "%"),
    (0, 1, 7, "precipitation rate", "kg m-2 s-1"),
    (0, 1, 8, "total precipitation", "kg m-2"),
    (0, 2, 0, "wind direction (from which blowing)", "degree true"),
    (0, 2, 1, "wind speed", "m s-1"),
    (0, 2, 2, "u-component of wind", "m s-1"),
    (0, 2, 3, "v-component of wind", "m s-1"),
    (0, 2, 21, "maximum wind speed", "m s-1"),
    (0, 2, 22, "wind speed (gust)", "m s-1"),
    (0, 3, 0, "pressure", "Pa"),
    (0, 3, 1, "pressure reduced to MSL", "Pa"),
    (0, 6, 1, "total cloud cover", "%"),
    (0, 7, 6, "convective available potential energy", "J kg-1"),
    (0, 191, 1, "geographical latitude", "degree north"),
    (0, 191, 2, "geographical longitude", "degree east"),
    (0, 19, 0, "visibility", "m"),
    (2, 0, 0, "land cover (0 = sea, 1 = land)", "proportion"),
    (
        10,
        0,
        3,
        "significant height of combined wind waves and swell",
        "m",
    ),
    (10, 0, 4, "direction of wind waves", "degree true"),
    (10, 0, 5, "significant height of wind waves", "m"),
    (10, 0, 6, "mean period of wind waves", "s"),
    (10, 0, 7, "direction of swell waves", "degree true"),
    (10, 0, 8, "significant height of swell waves", "m"),
    (10, 0, 9, "mean period of swell waves", "s"),
    (10, 0, 10, "primary wave direction", "degree true"),
    (10, 0, 11, "primary wave mean period", "s"),
    (
        10,
        0,
        14,
        "mean direction of combined wind waves and swell",
        "degree true",
    ),
    (10, 0, 15, "mean period of combined wind waves and swell", "s"),
    (10, 0, 34, "peak wave period", "s"),
    (10, 1, 0, "current direction", "degree true"),
    (10, 1, 1, "current speed", "m s-1"),
    (10, 1, 2, "u-component of current", "m s-1"),
    (10, 1, 3, "v-component of current", "m s-1"),
    (10, 2, 0, "ice cover", "proportion"),
];
