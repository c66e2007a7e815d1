//! What an instant is measured by: the level's limits, the boat's table, the entrance, thunder.
//!
//! Owns: the value of each criterion and the pair it is held against. Must not know: members, probabilities, sentences.

use crate::criteria::{Criterion, Stage};
use crate::numbers::{HourNumbers, Maybe};
use crate::outing::Outing;
use chrono::{DateTime, TimeDelta, Utc};
use club::{HighWater, Limit, Quantity, Venue};
use seaway::{Celsius, DirectionFrom, Knots, cold};

/// Rain below this is taken for none, mm/h: packing noise and drizzle (common practice, no source).
const RAIN_FROM_MM_PER_H: f64 = 0.1;

/// High waters follow each other in some 12 h 25 min, so one that is listed lies nearer than this.
const NEXT_HIGH_WATER_WITHIN: TimeDelta = TimeDelta::hours(7);

/// A criterion's value at an instant.
#[derive(Clone, Copy, Debug)]
pub enum Measure {
    /// Known.
    Value(f64),
    /// Missing as a whole; known at another point of the venue to be at least this bad, if at all.
    Missing(Maybe),
}

impl From<Maybe> for Measure {
    fn from(number: Maybe) -> Self {
        number.known().map_or(Self::Missing(Maybe::NONE), Self::Value)
    }
}

/// A value held against a pair.
#[derive(Clone, Copy, Debug)]
pub struct Held {
    /// By what.
    pub criterion: Criterion,
    /// The pair, tightened where the wind comes from a sector that tightens it.
    pub limit: Limit,
    /// The factor of that sector; 1 elsewhere.
    pub tightened: f64,
    /// The value.
    pub measure: Measure,
}

/// All that an outing is measured by, laid out once for its members and instants.
#[derive(Clone, Debug)]
pub struct Yardstick<'a> {
    venue: &'a Venue,
    pairs: Vec<(Quantity, Limit)>,
    steepness_from: f64,
    /// What sectors make of a limit together is never below this part of it.
    tightest: f64,
    /// CAPE and rain that stop the level; none where they do not.
    squall: Option<(f64, f64)>,
    /// The limit on the sea in the entrance, and its key.
    entrance: Option<Limit>,
    /// Mean and gust past which the boat does not sail, in the wind her table speaks of.
    table_ends: Option<(Knots, Knots)>,
}

impl<'a> Yardstick<'a> {
    /// Lays out what an outing is measured by.
    pub fn new(outing: &Outing<'a>) -> Self {
        let policy = outing.policy;
        let entrance = outing.venue.entrance.as_ref();
        Self {
            venue: outing.venue,
            // The sun is the same for all members: judged once for the outing.
            pairs: outing
                .level
                .limits
                .iter()
                .filter(|(quantity, _)| **quantity != Quantity::DaylightMargin)
                .map(|(&quantity, &limit)| (quantity, limit))
                .collect(),
            steepness_from: policy.steepness_from_m.0,
            tightest: policy.limits_tightest,
            squall: outing
                .level
                .thunder_stops
                .then_some((policy.squall_stop_cape_j_kg, policy.squall_stop_rain_mm_h)),
            entrance: entrance.and_then(|entrance| entrance.wave),
            table_ends: outing
                .boat
                .reef_table
                .rows()
                .last()
                .map(|last| outing.boat.row_in_true_wind(last))
                .map(|last| (last.mean_up_to, last.gust_up_to)),
        }
    }

    /// Holds the numbers of an instant against everything that counts there. `hour` has its lift already; `lift` is told
    /// again for what is known elsewhere only.
    pub fn measure(
        &self,
        at: DateTime<Utc>,
        hour: &HourNumbers,
        stage: Stage,
        lift: f64,
        mut take: impl FnMut(Held),
    ) {
        let tightened = self.tightening(hour);
        for &(quantity, limit) in &self.pairs {
            let Some(measure) = self.value(quantity, limit, hour, stage, lift) else {
                continue;
            };
            let factor = match quantity {
                Quantity::Mean | Quantity::Gust | Quantity::WaveHeight => tightened,
                _ => 1.0,
            };
            take(Held {
                criterion: Criterion::Limit(quantity),
                limit: tighter(limit, factor),
                tightened: factor,
                measure,
            });
        }
        let mut plain = |criterion, limit, measure| {
            take(Held {
                criterion,
                limit,
                tightened: 1.0,
                measure,
            });
        };
        if let Some((criterion, limit, measure)) = self.squall(hour) {
            plain(criterion, limit, measure);
        }
        if let Some((limit, measure)) = self.in_the_entrance(hour, stage) {
            plain(Criterion::EntranceWave, limit, measure);
        }
        if let Some(measure) = self.outside_the_gate(at, stage) {
            let none = Limit {
                caution_at: 0.0,
                stop_at: 0.0,
            };
            plain(Criterion::TideGate, none, measure);
        }
        if let Some((mean_ends, gust_ends)) = self.table_ends {
            for (criterion, value, ends) in [
                (Criterion::TableMean, hour.mean, mean_ends.0),
                (Criterion::TableGust, hour.gust, gust_ends.0),
            ] {
                // The bound itself is still inside the table, so only what is past counts.
                if value.known().is_none_or(|value| value > ends) {
                    let limit = Limit {
                        caution_at: ends,
                        stop_at: ends,
                    };
                    plain(criterion, limit, value.into());
                }
            }
        }
    }

    /// The factor on the limits of wind and sea while the wind comes from where it does.
    fn tightening(&self, hour: &HourNumbers) -> f64 {
        if self.venue.limit_sectors.is_empty() {
            return 1.0;
        }
        // Without a wind there is no call for the better, and a limit is only broken where it certainly is.
        let Some(from) = hour.from.known().map(DirectionFrom::new) else {
            return 1.0;
        };
        let holding = self
            .venue
            .limit_sectors
            .iter()
            .filter(|sector| sector.sector.holds(from));
        holding
            .map(|sector| sector.factor)
            .product::<f64>()
            .max(self.tightest)
    }

    /// The value of a quantity; none where it does not count.
    fn value(
        &self,
        quantity: Quantity,
        limit: Limit,
        hour: &HourNumbers,
        stage: Stage,
        lift: f64,
    ) -> Option<Measure> {
        let or_elsewhere = |number: Maybe, added: f64| match number.known() {
            Some(number) => Measure::Value(number),
            None => Measure::Missing(hour.elsewhere(quantity).map(|worst| worst + added).into()),
        };
        Some(match quantity {
            Quantity::Mean => or_elsewhere(hour.mean, lift),
            Quantity::Gust => or_elsewhere(hour.gust, lift),
            Quantity::WaveHeight => or_elsewhere(hour.wave, 0.0),
            Quantity::Steepness => match hour.wave.known() {
                None => Measure::Missing(Maybe::NONE),
                Some(height) if height < self.steepness_from => return None,
                Some(_) => hour.steepness.into(),
            },
            Quantity::CapeWithRain => cape_with_rain(hour, limit),
            Quantity::BerthCrosswind => {
                let berth = self.venue.berth.as_ref().filter(|_| stage.at_berth)?;
                let across = |mean: f64| {
                    let from = DirectionFrom::new(hour.from.known().unwrap_or(0.0));
                    mean * from.off(berth.heading).to_radians().sin().abs()
                };
                Maybe::from(hour.mean.known().map(across)).into()
            }
            Quantity::Visibility => or_elsewhere(hour.visibility, 0.0),
            Quantity::WindChill => wind_chill(hour),
            Quantity::WaterTemperature => or_elsewhere(hour.water, 0.0),
            Quantity::DaylightMargin => return None,
        })
    }

    /// CAPE where it and the rain both stop the level; missing where one of them is and the other does not rule it out.
    /// What no source gives is not asked for: a level that must not go without limits `cape_with_rain_j_kg`.
    fn squall(&self, hour: &HourNumbers) -> Option<(Criterion, Limit, Measure)> {
        let (cape_stops, rain_stops) = self.squall.filter(|_| !hour.no_thunder_given)?;
        let rules_out = |number: Maybe, bound: f64| number.known().is_some_and(|number| number < bound);
        if rules_out(hour.cape, cape_stops) || rules_out(hour.rain, rain_stops) {
            return None;
        }
        let measure = match hour.rain.known() {
            Some(_) => hour.cape.into(),
            None => Measure::Missing(Maybe::NONE),
        };
        let limit = Limit {
            caution_at: cape_stops,
            stop_at: cape_stops,
        };
        Some((Criterion::Squall, limit, measure))
    }

    /// The sea in the entrance, where it has a limit of its own and the sea runs into it.
    fn in_the_entrance(&self, hour: &HourNumbers, stage: Stage) -> Option<(Limit, Measure)> {
        let limit = self.entrance.filter(|_| stage.at_entrance)?;
        let open_to = self.venue.entrance.as_ref().and_then(|entrance| entrance.open_to);
        let from = hour.wave_from.known().map(DirectionFrom::new);
        // A sea whose direction is not known is taken to run in.
        let runs_in = open_to
            .zip(from)
            .is_none_or(|(open_to, from)| open_to.holds(from));
        runs_in.then(|| (limit, hour.wave.into()))
    }
}

impl Yardstick<'_> {
    /// Hours outside the entrance's tide gate; none where there is no gate or it is open.
    fn outside_the_gate(&self, at: DateTime<Utc>, stage: Stage) -> Option<Measure> {
        let gate = self.venue.entrance.as_ref().filter(|_| stage.at_entrance)?.gate?;
        let hours_outside = |high_water: &HighWater| {
            let after = (at - high_water.at).num_seconds() as f64 / 3600.0;
            (after - gate.shuts_after_h)
                .max(-gate.opens_before_h - after)
                .max(0.0)
        };
        let near = |high_water: &&HighWater| (at - high_water.at).abs() <= NEXT_HIGH_WATER_WITHIN;
        let high_waters = self.venue.high_waters.iter().filter(near);
        match high_waters.map(hours_outside).reduce(f64::min) {
            Some(hours) if hours > 0.0 => Some(Measure::Value(hours)),
            Some(_) => None,
            None => Some(Measure::Missing(Maybe::NONE)),
        }
    }
}

/// A pair times a factor; higher values are the worse ones.
fn tighter(limit: Limit, factor: f64) -> Limit {
    if factor == 1.0 {
        return limit;
    }
    Limit {
        caution_at: limit.caution_at * factor,
        stop_at: limit.stop_at * factor,
    }
}

/// CAPE while it rains, 0 while it does not. Neither value is needed where the other alone already says "no thunder".
fn cape_with_rain(hour: &HourNumbers, limit: Limit) -> Measure {
    match (hour.cape.known(), hour.rain.known()) {
        (Some(cape), _) if cape < limit.caution_at => Measure::Value(cape),
        (_, Some(rain)) if rain < RAIN_FROM_MM_PER_H => Measure::Value(0.0),
        (Some(cape), Some(_)) => Measure::Value(cape),
        _ => Measure::Missing(Maybe::NONE),
    }
}

/// Wind chill where it is defined, the air's own temperature where it is too mild for it.
fn wind_chill(hour: &HourNumbers) -> Measure {
    match (hour.air.known(), hour.mean.known()) {
        (Some(air), Some(mean)) => {
            let felt = cold::wind_chill(Celsius(air), Knots(mean)).unwrap_or(Celsius(air));
            Measure::Value(felt.0)
        }
        _ => Measure::Missing(Maybe::NONE),
    }
}
