//! The criteria: what an instant is judged by, and what comes of it.
//!
//! Owns: their names, findings with their origin, a value against its pair. Must not know: how a value is measured, members.

use crate::call::Call;
use chrono::{DateTime, Utc};
use club::{Limit, Quantity};
use conditions::{HourConditions, Known, Missing, Notes};
use forecast::SourceId;
use serde::Serialize;

/// What an instant is judged by.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Criterion {
    /// A limit of the level.
    Limit(Quantity),
    /// The mean wind against the last row of the boat's table.
    TableMean,
    /// The gust against the last row of the boat's table.
    TableGust,
    /// CAPE with rain that stop the level by themselves.
    Squall,
    /// The sea in the entrance against its own limit, at its two passages.
    EntranceWave,
    /// Hours outside the entrance's tide gate, at its two passages.
    TideGate,
}

impl Criterion {
    /// Its key in documents.
    pub fn key(self) -> &'static str {
        match self {
            Self::Limit(quantity) => quantity.key(),
            Self::TableMean => "table_mean_kn",
            Self::TableGust => "table_gust_kn",
            Self::Squall => "squall_cape_j_kg",
            Self::EntranceWave => "entrance_wave_m",
            Self::TideGate => "tide_gate_h",
        }
    }

    /// The unit of its values.
    pub fn unit(self) -> &'static str {
        match self {
            Self::Limit(quantity) => quantity.unit(),
            Self::TableMean | Self::TableGust => "kn",
            Self::Squall => Quantity::CapeWithRain.unit(),
            Self::EntranceWave => Quantity::WaveHeight.unit(),
            Self::TideGate => "h",
        }
    }

    /// Whether it speaks of the wind's strength: mean and gust, the level's or the table's, are one thing.
    pub fn is_of_wind(self) -> bool {
        matches!(
            self,
            Self::Limit(Quantity::Mean | Quantity::Gust) | Self::TableMean | Self::TableGust
        )
    }

    /// Whether lower values are the worse ones.
    pub fn lower_is_worse(self) -> bool {
        matches!(self, Self::Limit(quantity) if quantity.lower_is_worse())
    }
}

/// A value judged.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Finding {
    /// By what.
    pub criterion: Criterion,
    /// What it makes of the instant.
    pub call: Call,
    /// The value, in the criterion's unit.
    pub value: f64,
    /// The pair it was judged by.
    pub limit: Limit,
    /// When.
    pub at: DateTime<Utc>,
    /// Where the value came from; none for the sun.
    pub origin: Option<(SourceId, DateTime<Utc>)>,
    /// What was done to it.
    pub notes: Notes,
    /// The factor by which a sector tightened the pair; 1 where none did.
    pub tightened: f64,
}

impl Finding {
    /// How far inside the stop, in the unit; negative past it.
    pub fn margin(&self) -> f64 {
        if self.criterion.lower_is_worse() {
            self.value - self.limit.stop_at
        } else {
            self.limit.stop_at - self.value
        }
    }

    /// The margin over the size of the limits, so that knots and metres can be sorted together.
    ///
    /// The stop itself is the size, but for scales that pass through zero (temperatures, minutes to sunset): there the
    /// distance from caution to stop is.
    pub fn relative_margin(&self) -> f64 {
        let size = match self.criterion {
            Criterion::Limit(Quantity::WindChill | Quantity::WaterTemperature | Quantity::DaylightMargin) => {
                (self.limit.caution_at - self.limit.stop_at).abs()
            }
            // Hours outside a gate whose limit is none at all.
            Criterion::TideGate => 1.0,
            _ => self.limit.stop_at.abs(),
        };
        self.margin() / size.max(1e-6)
    }
}

/// A criterion that could not be judged.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Unknown {
    /// Which.
    pub criterion: Criterion,
    /// Why.
    pub missing: Missing,
    /// When.
    pub at: DateTime<Utc>,
}

/// A value against its pair: at or past the stop no-go, at or past the caution marginal.
pub fn judge(value: f64, limit: Limit, lower_is_worse: bool) -> Call {
    let past = |bound: f64| {
        if lower_is_worse {
            value <= bound
        } else {
            value >= bound
        }
    };
    if past(limit.stop_at) {
        Call::NoGo
    } else if past(limit.caution_at) {
        Call::Marginal
    } else {
        Call::Go
    }
}

/// Where the boat is at an instant: at the berth the wind across it counts, in the entrance the sea running into it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Stage {
    /// Leaving the berth or coming alongside.
    pub at_berth: bool,
    /// Passing the entrance.
    pub at_entrance: bool,
}

impl Stage {
    /// Out on the water.
    pub const UNDER_WAY: Self = Self {
        at_berth: false,
        at_entrance: false,
    };
    /// Passing the entrance.
    pub const IN_THE_ENTRANCE: Self = Self {
        at_berth: false,
        at_entrance: true,
    };
}

/// Where a value came from and what was done to it, or why it is missing.
pub(crate) type Origin = Result<(SourceId, DateTime<Utc>, Notes), Missing>;

/// The origins of what a criterion is made of, the first the one it is told by; none for the sun and the tide.
pub(crate) fn origins_of(criterion: Criterion, hour: &HourConditions) -> [Option<Origin>; 2] {
    let alone = |origin| [Some(origin), None];
    match criterion {
        Criterion::Limit(Quantity::Mean | Quantity::BerthCrosswind) | Criterion::TableMean => {
            alone(origin(&hour.wind))
        }
        Criterion::Limit(Quantity::Gust) | Criterion::TableGust => alone(origin(&hour.gust)),
        Criterion::Limit(Quantity::WaveHeight) | Criterion::EntranceWave => alone(origin(&hour.wave_height)),
        Criterion::Limit(Quantity::Steepness) => {
            [Some(origin(&hour.wave_height)), Some(origin(&hour.steepness))]
        }
        Criterion::Squall | Criterion::Limit(Quantity::CapeWithRain) => [
            Some(origin(&hour.cape_j_per_kg)),
            Some(origin(&hour.rain_mm_per_h)),
        ],
        Criterion::Limit(Quantity::Visibility) => alone(origin(&hour.visibility)),
        Criterion::Limit(Quantity::WindChill) => [Some(origin(&hour.air)), Some(origin(&hour.wind))],
        Criterion::Limit(Quantity::WaterTemperature) => alone(origin(&hour.water)),
        Criterion::Limit(Quantity::DaylightMargin) | Criterion::TideGate => [None, None],
    }
}

/// Why a criterion could not be measured. Of what comes from no forecast only a tide can be missing.
pub(crate) fn why_missing(origins: &[Option<Origin>; 2]) -> Missing {
    let why = origins.iter().flatten().find_map(|origin| origin.as_ref().err());
    why.cloned().unwrap_or(Missing {
        gap: forecast::Gap::NoHighWater,
        source: None,
        reference: None,
        elsewhere: None,
    })
}

fn origin<T>(known: &Known<T>) -> Origin {
    match known {
        Ok(reading) => Ok((reading.source.clone(), reading.reference, reading.notes)),
        Err(missing) => Err(missing.clone()),
    }
}
