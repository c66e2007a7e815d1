//! The sources that a club's policy can name, by what they serve: those of the catalogue that comes with the program (a test of
//! the program compares them), and those that the settings add.
//!
//! Must not know: the catalogue, the settings.

/// What the name of a source begins with that the settings add. What it serves is theirs to say: any list may name it.
pub const OWN_PREFIX: &str = "own-";
/// The longest name of such a source, letters.
const OWN_NAME_AT_MOST: usize = 40;

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
/// Those of the catalogue whose model covers a region: their runs come every few hours and are old sooner. The catalogue holds no extent of a
/// grid; that of the mesh and of the coastal waves is told in its remarks.
pub const REGIONAL_SOURCES: [&str; 4] = ["icon-eu", "icon-eu-native", "icon-d2-native", "ewam"];

/// Whether a name is that of a source which the settings add: `own-`, then small letters, digits and hyphens.
pub fn is_own(source: &str) -> bool {
    let is_letter = |letter: u8| matches!(letter, b'a'..=b'z' | b'0'..=b'9' | b'-');
    let rest = source.strip_prefix(OWN_PREFIX);
    source.len() <= OWN_NAME_AT_MOST
        && rest.is_some_and(|rest| !rest.is_empty() && rest.bytes().all(is_letter))
}

/// Whether a source's runs are old sooner, as those of a model for a region are. So are those of a source that the settings add,
/// whatever it covers: nothing says that it covers more.
pub fn is_regional(source: &str) -> bool {
    REGIONAL_SOURCES.contains(&source) || is_own(source)
}
