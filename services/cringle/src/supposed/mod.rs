//! Supposed conditions: hours that somebody wrote down to ask what the rules would say of them.
//!
//! Owns: the columns of the file and their bounds, the hours read. Must not know: limits, calls.

pub mod answer;
pub mod judged;
mod not_judged;
pub mod read;
pub mod slice;
mod stage;
mod together;
pub mod words;

use chrono::{DateTime, Utc};
use std::collections::{BTreeMap, BTreeSet};

/// A column of values.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Column {
    /// Mean wind at 10 m, kn.
    Mean,
    /// Where it comes from, degrees true.
    From,
    /// Gust at 10 m, kn.
    Gust,
    /// Hours ending at the row's time whose highest gust it is; empty for the gust of the moment.
    GustOver,
    /// Significant wave height, m.
    Wave,
    /// Wave period, s.
    WavePeriod,
    /// Where the waves come from, degrees true.
    WaveFrom,
    /// Air temperature, degrees Celsius.
    Air,
    /// Dew point, degrees Celsius.
    Dew,
    /// Temperature of the land, degrees Celsius.
    Land,
    /// Visibility, m.
    Visibility,
    /// Rain since the row before, as a rate, mm/h.
    Rain,
    /// Convective available potential energy, J/kg.
    Cape,
    /// Temperature of the sea, degrees Celsius.
    Sea,
    /// Speed of the stream, kn.
    Stream,
    /// Where the stream sets to, degrees true.
    StreamTo,
}

/// How many columns of values there are.
pub const COLUMNS: usize = 16;

impl Column {
    /// Every column, in the order of the values of a row.
    pub const ALL: [Self; COLUMNS] = [
        Self::Mean,
        Self::From,
        Self::Gust,
        Self::GustOver,
        Self::Wave,
        Self::WavePeriod,
        Self::WaveFrom,
        Self::Air,
        Self::Dew,
        Self::Land,
        Self::Visibility,
        Self::Rain,
        Self::Cape,
        Self::Sea,
        Self::Stream,
        Self::StreamTo,
    ];

    /// Its name in the file, and the least and greatest value taken. Wider than anything a crew has met, narrow enough to catch
    /// another unit or a slipped point.
    pub fn facts(self) -> (&'static str, f64, f64) {
        match self {
            Self::Mean => ("mean_kn", 0.0, 150.0),
            Self::From => ("from_deg", 0.0, 360.0),
            Self::Gust => ("gust_kn", 0.0, 200.0),
            Self::GustOver => ("gust_over_h", 0.1, 24.0),
            Self::Wave => ("wave_m", 0.0, 30.0),
            Self::WavePeriod => ("wave_period_s", 0.1, 30.0),
            Self::WaveFrom => ("wave_from_deg", 0.0, 360.0),
            Self::Air => ("air_c", -60.0, 60.0),
            Self::Dew => ("dew_c", -80.0, 50.0),
            Self::Land => ("land_c", -60.0, 80.0),
            Self::Visibility => ("visibility_m", 0.0, 100_000.0),
            Self::Rain => ("rain_mm_h", 0.0, 300.0),
            Self::Cape => ("cape_j_kg", 0.0, 10_000.0),
            Self::Sea => ("sea_c", -3.0, 45.0),
            Self::Stream => ("stream_kn", 0.0, 20.0),
            Self::StreamTo => ("stream_to_deg", 0.0, 360.0),
        }
    }

    /// Its name in the file.
    pub fn name(self) -> &'static str {
        self.facts().0
    }
}

/// The values of one hour and member.
#[derive(Clone, Debug, PartialEq)]
pub struct Hour {
    /// Line of the file.
    pub line: u64,
    /// By column; none where the cell is empty or the column absent.
    pub values: [Option<f64>; COLUMNS],
}

impl Hour {
    /// The value of a column.
    pub fn get(&self, column: Column) -> Option<f64> {
        self.values[column as usize]
    }
}

/// The hours of a file; there is at least one.
#[derive(Clone, Debug, PartialEq)]
pub struct Supposed {
    /// The columns the file has.
    pub columns: BTreeSet<Column>,
    /// By member and instant.
    pub hours: BTreeMap<(u16, DateTime<Utc>), Hour>,
}

impl Supposed {
    /// The instants, ascending.
    pub fn times(&self) -> BTreeSet<DateTime<Utc>> {
        self.hours.keys().map(|(_, at)| *at).collect()
    }

    /// The members, ascending.
    pub fn members(&self) -> BTreeSet<u16> {
        self.hours.keys().map(|(member, _)| *member).collect()
    }

    /// Whether a column is in the file.
    pub fn has(&self, column: Column) -> bool {
        self.columns.contains(&column)
    }

    /// Whether some mean wind stands without where it comes from.
    pub fn lacks_direction(&self) -> bool {
        let lacks = |hour: &Hour| hour.get(Column::Mean).is_some() && hour.get(Column::From).is_none();
        self.hours.values().any(lacks)
    }
}
