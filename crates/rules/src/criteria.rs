//! The criteria of one instant: each a small function from conditions to a value, judged by the level's pair of limits.

use crate::call::Call;
use crate::outing::Outing;
use chrono::{DateTime, Utc};
use club::{Limit, Quantity, ReefTable};
use conditions::{HourConditions, Known, Missing, Notes, Reading};
use forecast::SourceId;
use seaway::{Knots, Metres, Wind, cold};
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
}

impl Criterion {
    /// Its key in documents.
    pub fn key(self) -> &'static str {
        match self {
            Self::Limit(quantity) => quantity.key(),
            Self::TableMean => "table_mean_kn",
            Self::TableGust => "table_gust_kn",
        }
    }

    /// The unit of its values.
    pub fn unit(self) -> &'static str {
        match self {
            Self::Limit(quantity) => quantity.unit(),
            Self::TableMean | Self::TableGust => "kn",
        }
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

/// The findings and the unknowns of one instant.
#[derive(Clone, Debug, Default)]
pub struct Judged {
    /// What was judged.
    pub findings: Vec<Finding>,
    /// What could not be.
    pub unknown: Vec<Unknown>,
}

/// Whether the boat is at her berth at the instant: then the wind across it counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stage {
    /// Leaving the berth or coming alongside.
    AtBerth,
    /// Under way.
    UnderWay,
}

/// Judges one instant by every limit of the level and by the boat's table. `lift` is added to the mean wind, and to the
/// gust in the same proportion: how the spread floors look at a member.
pub fn judge_instant(outing: &Outing<'_>, hour: &HourConditions, stage: Stage, lift: Knots) -> Judged {
    let mut judged = Judged::default();
    let (wind, gust) = lifted(hour, lift);
    for (&quantity, &limit) in &outing.level.limits {
        let value = match quantity {
            Quantity::Mean => wind
                .as_ref()
                .map(|r| keep(r, r.value.speed.0))
                .map_err(Clone::clone),
            Quantity::Gust => gust.as_ref().map(|r| keep(r, r.value.0)).map_err(Clone::clone),
            Quantity::WaveHeight => number(&hour.wave_height, |m| m.0),
            Quantity::Steepness => match steepness(hour, outing.policy.steepness_from_m) {
                Some(value) => value,
                None => continue,
            },
            Quantity::CapeWithRain => cape_with_rain(hour, limit),
            Quantity::BerthCrosswind => match (stage, across_the_berth(outing, &wind)) {
                (Stage::AtBerth, Some(value)) => value,
                _ => continue,
            },
            Quantity::Visibility => number(&hour.visibility, |m| m.0),
            Quantity::WindChill => wind_chill(hour, &wind),
            Quantity::WaterTemperature => number(&hour.water, |c| c.0),
            // The sun is the same for all members: judged once for the outing.
            Quantity::DaylightMargin => continue,
        };
        let criterion = Criterion::Limit(quantity);
        judged.take_elsewhere(criterion, elsewhere(hour, quantity, lift), limit, hour.time);
        judged.take(criterion, value, limit, hour.time);
    }
    judged.take_table(&outing.boat.reef_table, &wind, &gust, hour.time);
    judged
}

/// Mean and gust of an hour with a lift: never below calm, the gust in proportion and never below the mean.
pub fn lifted(hour: &HourConditions, lift: Knots) -> (Known<Wind>, Known<Knots>) {
    if lift.0 == 0.0 {
        return (hour.wind.clone(), hour.gust.clone());
    }
    let Ok(wind) = &hour.wind else {
        return (hour.wind.clone(), hour.gust.clone());
    };
    let before = wind.value.speed.0;
    let after = (before + lift.0).max(0.0);
    let mean = keep(
        wind,
        Wind {
            speed: Knots(after),
            from: wind.value.from,
        },
    );
    let gust = hour.gust.as_ref().map_err(Clone::clone).map(|gust| {
        let factor = if before > 0.0 { gust.value.0 / before } else { 1.0 };
        keep(gust, Knots((gust.value.0 + lift.0 * factor).max(after)))
    });
    (Ok(mean), gust)
}

/// What is known at other points of the venue of a quantity that is missing as a whole. Only of those that are judged as
/// they are: what is worked out from several values is not told by one of them.
fn elsewhere(hour: &HourConditions, quantity: Quantity, lift: Knots) -> Option<(f64, &Missing)> {
    let (missing, added) = match quantity {
        Quantity::Mean => (hour.wind.as_ref().err(), lift.0),
        Quantity::Gust => (hour.gust.as_ref().err(), lift.0),
        Quantity::WaveHeight => (hour.wave_height.as_ref().err(), 0.0),
        Quantity::Visibility => (hour.visibility.as_ref().err(), 0.0),
        Quantity::WaterTemperature => (hour.water.as_ref().err(), 0.0),
        _ => (None, 0.0),
    };
    let missing = missing?;
    Some((missing.elsewhere? + added, missing))
}

fn keep<T, U>(reading: &Reading<T>, value: U) -> Reading<U> {
    Reading {
        value,
        source: reading.source.clone(),
        reference: reading.reference,
        notes: reading.notes,
    }
}

fn number<T: Copy>(known: &Known<T>, of: impl Fn(T) -> f64) -> Known<f64> {
    known
        .as_ref()
        .map(|reading| keep(reading, of(reading.value)))
        .map_err(Clone::clone)
}

/// Height over length; none where the sea is too low for steepness to count.
fn steepness(hour: &HourConditions, counts_from: Metres) -> Option<Known<f64>> {
    let height = match &hour.wave_height {
        Ok(height) => height,
        Err(missing) => return Some(Err(missing.clone())),
    };
    if height.value < counts_from {
        return None;
    }
    Some(hour.steepness.clone())
}

/// Rain below this is taken for none, mm/h: packing noise and drizzle (common practice, no source).
const RAIN_FROM_MM_PER_H: f64 = 0.1;

/// CAPE while it rains, 0 while it does not. Neither value is needed where the other alone already says "no thunder".
fn cape_with_rain(hour: &HourConditions, limit: Limit) -> Known<f64> {
    match (&hour.cape_j_per_kg, &hour.rain_mm_per_h) {
        (Ok(cape), _) if cape.value < limit.caution_at => Ok(cape.clone()),
        (_, Ok(rain)) if rain.value < RAIN_FROM_MM_PER_H => Ok(keep(rain, 0.0)),
        (Ok(cape), Ok(_)) => Ok(cape.clone()),
        (Err(missing), _) | (_, Err(missing)) => Err(missing.clone()),
    }
}

/// Wind across the berth, kn, whichever way; none where the club gave no berth.
fn across_the_berth(outing: &Outing<'_>, wind: &Known<Wind>) -> Option<Known<f64>> {
    let berth = outing.venue.berth.as_ref()?;
    let across = |wind: Wind| wind.speed.0 * wind.from.off(berth.heading).to_radians().sin().abs();
    Some(number(wind, across))
}

/// Wind chill where it is defined, the air's own temperature where it is too mild for it.
fn wind_chill(hour: &HourConditions, wind: &Known<Wind>) -> Known<f64> {
    let air = hour.air.as_ref().map_err(Clone::clone)?;
    let wind = wind.as_ref().map_err(Clone::clone)?;
    let felt = cold::wind_chill(air.value, wind.value.speed).unwrap_or(air.value);
    Ok(keep(air, felt.0))
}

impl Judged {
    fn take(&mut self, criterion: Criterion, value: Known<f64>, limit: Limit, at: DateTime<Utc>) {
        match value {
            Ok(reading) => self.findings.push(Finding {
                criterion,
                call: judge(reading.value, limit, criterion.lower_is_worse()),
                value: reading.value,
                limit,
                at,
                origin: Some((reading.source, reading.reference)),
                notes: reading.notes,
            }),
            Err(missing) => self.unknown.push(Unknown {
                criterion,
                missing,
                at,
            }),
        }
    }

    /// A limit that is broken where something is known is broken, whatever is missing elsewhere. A limit that is not says
    /// nothing: then only the unknown counts.
    fn take_elsewhere(
        &mut self,
        criterion: Criterion,
        known: Option<(f64, &Missing)>,
        limit: Limit,
        at: DateTime<Utc>,
    ) {
        let Some((value, missing)) = known else { return };
        let call = judge(value, limit, criterion.lower_is_worse());
        if call == Call::NoGo {
            self.findings.push(Finding {
                criterion,
                call,
                value,
                limit,
                at,
                origin: missing.source.clone().zip(missing.reference),
                notes: Notes::default(),
            });
        }
    }

    /// Past the last row the boat does not sail. The bound itself is still inside the table, so only what is past counts.
    fn take_table(&mut self, table: &ReefTable, wind: &Known<Wind>, gust: &Known<Knots>, at: DateTime<Utc>) {
        let Some(last) = table.rows().last() else { return };
        self.take_past(
            Criterion::TableMean,
            number(wind, |w| w.speed.0),
            last.mean_up_to,
            at,
        );
        self.take_past(Criterion::TableGust, number(gust, |g| g.0), last.gust_up_to, at);
    }

    fn take_past(&mut self, criterion: Criterion, value: Known<f64>, up_to: Knots, at: DateTime<Utc>) {
        match value {
            Ok(reading) if reading.value > up_to.0 => {
                let limit = Limit {
                    caution_at: up_to.0,
                    stop_at: up_to.0,
                };
                self.take(criterion, Ok(reading), limit, at);
            }
            Ok(_) => {}
            Err(missing) => self.unknown.push(Unknown {
                criterion,
                missing,
                at,
            }),
        }
    }
}
