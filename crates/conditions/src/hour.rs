//! What is known of one hour at a venue, for one member: each quantity with its origin, or why it is missing.
//!
//! Owns: the words that `rules` reads. Must not know: how a value was interpolated, limits, calls.

use chrono::{DateTime, Utc};
use forecast::{Gap, SourceId};
use seaway::{Bearing, Celsius, DirectionFrom, Hectopascals, Knots, Metres, NauticalMiles, Seconds, Wind};
use serde::Serialize;

/// Why a value is missing, and where it was looked for.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Missing {
    /// The reason.
    pub gap: Gap,
    /// The source that should have given it; none if the policy names none.
    pub source: Option<SourceId>,
    /// The run of that source; none if no run is at hand.
    pub reference: Option<DateTime<Utc>>,
    /// The worst value at those points of the venue where it is known, in the element's unit: the whole is at least as
    /// bad. It may show that a limit is broken, and never that one is kept.
    pub elsewhere: Option<f64>,
}

impl Missing {
    /// The reason in words, with the source where there is one: "gfs-wave: damaged message".
    pub fn words(&self) -> String {
        match &self.source {
            Some(source) => format!("{source}: {}", self.gap.words()),
            None => self.gap.words().to_owned(),
        }
    }
}

/// A value with its origin, or why there is none. Missing is never zero and never a guess.
pub type Known<T> = Result<Reading<T>, Missing>;

/// A value, where it came from and what was done to it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Reading<T> {
    /// The value after interpolation and corrections.
    pub value: T,
    /// The source it came from.
    pub source: SourceId,
    /// The reference time of the run it came from.
    pub reference: DateTime<Utc>,
    /// What a reader of the value must be told.
    pub notes: Notes,
}

/// What a reader of a value must be told. The default says: nothing out of the ordinary.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Notes {
    /// The source gives no gust: the gust is the mean times this factor.
    pub estimated_gust: Option<f64>,
    /// The gust is the maximum of more than three hours: good for early views only.
    pub long_gust_interval: bool,
    /// The gust was below the mean and was raised to it.
    pub gust_raised_to_mean: bool,
    /// No node around the place is water: the value is that of a water node this far off.
    pub offshore: Option<NauticalMiles>,
    /// The sector factor that was applied.
    pub sector_factor: Option<f64>,
    /// One value for every member of an ensemble: it says nothing of the spread.
    pub no_spread: bool,
    /// No land mask is known for a node used: it was taken for water.
    pub no_land_mask: bool,
    /// A stream against the wind was added to it.
    pub opposing_stream: Option<Knots>,
    /// A front passes: the gust was multiplied by this.
    pub front: Option<f64>,
    /// The wind is the sea breeze to plan for.
    pub sea_breeze: bool,
    /// The sea is what the local wind raises over the venue's fetch.
    pub by_fetch: bool,
    /// A stream changed the height of the sea by this ratio.
    pub sea_on_stream: Option<f64>,
    /// The stream makes the sea break.
    pub breaking: bool,
}

/// A tidal stream.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Stream {
    /// Its rate.
    pub rate: Knots,
    /// Where it sets.
    pub set: Bearing,
}

/// All that is known of one instant at a venue, for one member.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct HourConditions {
    /// The instant.
    pub time: DateTime<Utc>,
    /// Mean wind at 10 m; its speed is the one that limits see.
    pub wind: Known<Wind>,
    /// Gust at 10 m; never below the mean.
    pub gust: Known<Knots>,
    /// Significant height of wind sea and swell together.
    pub wave_height: Known<Metres>,
    /// Period of the primary wave system, at the roughest point.
    pub wave_period: Known<Seconds>,
    /// Where that system comes from, at the roughest point.
    pub wave_from: Known<DirectionFrom>,
    /// Height over length of that sea, a ratio; a stream that it runs into makes it steeper.
    pub steepness: Known<f64>,
    /// The tidal stream; none where the club gave no stream table.
    pub stream: Option<Known<Stream>>,
    /// Air temperature at 2 m.
    pub air: Known<Celsius>,
    /// Dew point at 2 m.
    pub dew_point: Known<Celsius>,
    /// Visibility; the worse of the two steps around.
    pub visibility: Known<Metres>,
    /// Rain rate, mm/h, of the interval the instant lies in.
    pub rain_mm_per_h: Known<f64>,
    /// Convective available potential energy, J/kg; the larger of the two steps around.
    pub cape_j_per_kg: Known<f64>,
    /// Temperature of the sea's surface.
    pub water: Known<Celsius>,
    /// Pressure at mean sea level.
    pub pressure: Known<Hectopascals>,
}
