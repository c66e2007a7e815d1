//! What is kept for a place, as a table: hours down, quantities across, members summed up as least and most.
//!
//! Must not know: how values were interpolated, the store.

use chrono::{DateTime, Utc};

/// One source at one point.
#[derive(Clone, Debug, PartialEq)]
pub struct KeptTable {
    /// The source.
    pub source: String,
    /// The run's reference time.
    pub run: DateTime<Utc>,
    /// How many members it has.
    pub members: usize,
    /// The point, as the club names it.
    pub point: String,
    /// The nodes around it that carry weight, with their distance in nautical miles, in words.
    pub nodes: Vec<String>,
    /// The quantities with their units.
    pub columns: Vec<(String, String)>,
    /// The hours, each with a cell for each column.
    pub rows: Vec<(DateTime<Utc>, Vec<KeptCell>)>,
}

/// One quantity at one hour.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct KeptCell {
    /// The least and the most of the members that have a value.
    pub values: Option<(f64, f64)>,
    /// Why it is missing, for each member that has none; each reason once.
    pub missing: Vec<String>,
    /// False if the source does not give it at this hour at all.
    pub due: bool,
}
