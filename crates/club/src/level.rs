//! A crew's experience level: its limits and its lessons.
//!
//! Owns: the quantities that can be limited, and their pairs. Must not know: what a value is held against them.

use chrono::TimeDelta;
use seaway::{Knots, Metres};
use serde::{Deserialize, Serialize};

/// A quantity that a level can limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Quantity {
    /// Mean wind, kn.
    Mean,
    /// Gust, kn.
    Gust,
    /// Significant wave height, m.
    WaveHeight,
    /// Wave height over wave length (deep water), a ratio.
    Steepness,
    /// CAPE while it rains, J/kg.
    CapeWithRain,
    /// Wind across the berth, kn, leaving and returning.
    BerthCrosswind,
    /// Visibility, m; lower is worse.
    Visibility,
    /// Wind chill, degrees Celsius; lower is worse.
    WindChill,
    /// Water temperature, degrees Celsius; lower is worse.
    WaterTemperature,
    /// Minutes from being alongside to sunset; lower is worse.
    DaylightMargin,
}

impl Quantity {
    /// Every quantity a level can limit, in the order they are shown.
    pub const ALL: [Self; 10] = [
        Self::Mean,
        Self::Gust,
        Self::WaveHeight,
        Self::Steepness,
        Self::CapeWithRain,
        Self::BerthCrosswind,
        Self::Visibility,
        Self::WindChill,
        Self::WaterTemperature,
        Self::DaylightMargin,
    ];

    /// Whether lower values are the worse ones.
    pub fn lower_is_worse(self) -> bool {
        matches!(
            self,
            Self::Visibility | Self::WindChill | Self::WaterTemperature | Self::DaylightMargin
        )
    }

    /// The key of its pair in a level's `[limits]`, which carries the unit.
    pub fn key(self) -> &'static str {
        match self {
            Self::Mean => "mean_kn",
            Self::Gust => "gust_kn",
            Self::WaveHeight => "wave_m",
            Self::Steepness => "steepness",
            Self::CapeWithRain => "cape_with_rain_j_kg",
            Self::BerthCrosswind => "berth_crosswind_kn",
            Self::Visibility => "visibility_m",
            Self::WindChill => "wind_chill_c",
            Self::WaterTemperature => "water_c",
            Self::DaylightMargin => "daylight_margin_min",
        }
    }

    /// The unit of its values.
    pub fn unit(self) -> &'static str {
        match self {
            Self::Mean | Self::Gust | Self::BerthCrosswind => "kn",
            Self::WaveHeight | Self::Visibility => "m",
            Self::Steepness => "",
            Self::CapeWithRain => "J/kg",
            Self::WindChill | Self::WaterTemperature => "°C",
            Self::DaylightMargin => "min",
        }
    }
}

/// Where caution starts and where it stops, in the quantity's unit. Both are inclusive.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Limit {
    /// At or past this: marginal.
    pub caution_at: f64,
    /// At or past this: no-go.
    pub stop_at: f64,
}

/// A level's limits: a pair for each quantity the club limits.
pub type Limits = std::collections::BTreeMap<Quantity, Limit>;

/// A crew experience level.
#[derive(Clone, Debug)]
pub struct Level {
    /// Key in the file.
    pub id: String,
    /// As shown.
    pub name: String,
    /// The limits.
    pub limits: Limits,
    /// Below this mean wind a go is "go, light".
    pub light_below: Knots,
    /// What a light session can do, as shown.
    pub light_programme: Option<String>,
    /// Rows of the reef table to be more reefed than the wind asks for.
    pub extra_reefs: u8,
    /// Hours ahead whose most reefed row is the plan to leave with.
    pub reef_ahead: TimeDelta,
    /// Whether three marginal criteria in one hour make a no-go.
    pub accumulate: bool,
    /// Whether the crew are learners: cautions are then given earlier.
    pub learners: bool,
    /// Whether a thunderstorm's CAPE and rain (`squall_stop_*` of the policy) stop it by themselves.
    pub thunder_stops: bool,
    /// What it is taught, each with the hours it suits.
    pub syllabus: Vec<Lesson>,
}

/// One lesson of a level's syllabus.
#[derive(Clone, Debug, PartialEq)]
pub struct Lesson {
    /// As shown.
    pub name: String,
    /// Mean winds it suits, both included; none: any.
    pub wind: Option<(Knots, Knots)>,
    /// Seas it suits, both included; none: any.
    pub wave: Option<(Metres, Metres)>,
    /// For light air: listed apart, when there is too little wind to sail much.
    pub light_air: bool,
}
