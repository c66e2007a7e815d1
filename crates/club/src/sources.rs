//! The sources that a club's policy can name, by what they serve: those of the catalogue that comes with the program. A test of
//! the program compares them.
//!
//! Must not know: the catalogue.

/// With wind and gust.
pub const WIND_SOURCES: [&str; 7] = [
    "gefs",
    "gfs",
    "ecmwf-ens",
    "ecmwf-ifs",
    "icon-eu",
    "icon-eu-native",
    "icon-d2-native",
];
/// Those of them that are one run.
pub const DETERMINISTIC_SOURCES: [&str; 5] =
    ["gfs", "ecmwf-ifs", "icon-eu", "icon-eu-native", "icon-d2-native"];
/// With the height, period and direction of waves.
pub const WAVE_SOURCES: [&str; 3] = ["gfs-wave", "ecmwf-wave", "ewam"];
/// With air temperature and more.
pub const WEATHER_SOURCES: [&str; 6] = [
    "gfs",
    "ecmwf-ifs",
    "ecmwf-aifs",
    "icon-eu",
    "icon-eu-native",
    "icon-d2-native",
];
/// Those whose model covers a region: their runs come every few hours and are old sooner. The catalogue holds no extent of a
/// grid; that of the mesh and of the coastal waves is told in its remarks.
pub const REGIONAL_SOURCES: [&str; 4] = ["icon-eu", "icon-eu-native", "icon-d2-native", "ewam"];
