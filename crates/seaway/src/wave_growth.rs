//! The sea that a wind raises on water with shores: growth with fetch, duration and depth.
//!
//! Owns: the growth formulas, and a table of fetches by direction. Must not know: venues, wave models, limits.
//! Sources: ACES User Guide and Technical Reference, chapter 1-1 (US Army Coastal Engineering Research Center), which
//! carries on the Shore Protection Manual of 1984. Other methods differ from it, and among themselves, by 20 % and
//! somewhat more; at 30 kn over 50 nm it lies above them.
//!
//! Two winds go by similar names: the 10 m wind, and the wind factor that enters the formulas (larger than the wind
//! above 4 m/s). Mixing them up changes the height by half, so each function says which one it takes.

use crate::quantity::{
    DirectionFrom, Metres, MetresPerSecond, Seconds, normalise_degrees, signed_difference,
};
use crate::waves::{self, GRAVITY};

/// Highest sea of a wind factor, as a part of UA^2/g: a fully developed sea.
const FULLY_DEVELOPED_HEIGHT: f64 = 0.2433;
/// Longest period of a wind factor, as a part of UA/g: a fully developed sea.
const FULLY_DEVELOPED_PERIOD: f64 = 8.134;

/// The factor UA by which the 10 m wind drives the growth formulas.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct WindFactor(pub MetresPerSecond);

impl WindFactor {
    /// UA = U sqrt(0.75 + 0.067 U), with the mean wind U at 10 m in m/s. Source: ACES Technical Reference 1-1 (drag law).
    pub fn of_wind(wind: MetresPerSecond) -> Self {
        Self(MetresPerSecond(wind.0 * (0.75 + 0.067 * wind.0).sqrt()))
    }

    /// The part of it that drives waves running at an angle in degrees off the wind, UA cos(angle); nothing at or beyond
    /// 90 degrees. Source: ACES Technical Reference 1-1, restricted fetches.
    pub fn along(self, angle_deg: f64) -> Self {
        let ahead = angle_deg.abs() < 90.0;
        let part = if ahead { angle_deg.to_radians().cos() } else { 0.0 };
        Self(MetresPerSecond(self.0.0 * part))
    }
}

/// The water a wind blows over, and for how long.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Blow {
    /// Open water to windward, metres, 0 or more.
    pub fetch: Metres,
    /// How long the wind has blown, seconds, 0 or more. None: long enough for the fetch to decide alone.
    pub duration: Option<Seconds>,
    /// Mean depth of that water, metres, above 0. None: deep water.
    pub depth: Option<Metres>,
}

impl Blow {
    fn valid(self) -> bool {
        let at_least_0 = |value: f64| value.is_finite() && value >= 0.0;
        at_least_0(self.fetch.0)
            && self.duration.is_none_or(|duration| at_least_0(duration.0))
            && self
                .depth
                .is_none_or(|depth| depth.0.is_finite() && depth.0 > 0.0)
    }
}

/// A sea raised by local wind.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GrownSea {
    /// Significant height, metres.
    pub height: Metres,
    /// Period of the spectrum's peak, seconds; 0 where the water is flat.
    pub period: Seconds,
}

impl GrownSea {
    /// Flat water.
    pub const FLAT: Self = Self {
        height: Metres(0.0),
        period: Seconds(0.0),
    };

    /// Height over length in deep water, a ratio; None for flat water.
    pub fn steepness(self) -> Option<f64> {
        waves::steepness(self.height, self.period)
    }

    fn lesser(self, other: Self) -> Self {
        Self {
            height: self.height.min(other.height),
            period: self.period.min(other.period),
        }
    }
}

/// The sea raised by a mean wind at 10 m, m/s. None where the wind, fetch, duration or depth is no finite number, is
/// negative, or the depth is 0. No fetch, no wind or no time gives flat water.
pub fn grown_sea(wind: MetresPerSecond, blow: Blow) -> Option<GrownSea> {
    // A negative wind has a negative factor, or none at all, and is refused there.
    grown_sea_of_factor(WindFactor::of_wind(wind), blow)
}

/// The sea raised by a wind factor. None as in [`grown_sea`].
///
/// It is the lesser of what the fetch allows and what the duration allows. The source's two formulas do not quite meet
/// at [`least_duration`]: their heights are about a tenth apart there. Taking the lesser, of height and period each, keeps
/// both from falling with more fetch or time.
pub fn grown_sea_of_factor(factor: WindFactor, blow: Blow) -> Option<GrownSea> {
    let speed = factor.0.0;
    if !(speed.is_finite() && speed >= 0.0 && blow.valid()) {
        return None;
    }
    if speed == 0.0 || blow.fetch.0 == 0.0 {
        return Some(GrownSea::FLAT);
    }
    let by_fetch = match blow.depth {
        None => deep_by_fetch(speed, blow.fetch),
        Some(depth) => shallow_by_fetch(speed, blow.fetch, depth),
    };
    Some(match blow.duration {
        None => by_fetch,
        Some(duration) => by_fetch.lesser(by_duration(speed, duration)),
    })
}

/// The sea that a wind factor raises in deep water in a time, seconds, over any fetch. None as in [`grown_sea`].
/// Source: ACES Technical Reference 1-1, duration limited.
pub fn unbounded_sea(factor: WindFactor, duration: Seconds) -> Option<GrownSea> {
    let valid = factor.0.0.is_finite() && factor.0.0 >= 0.0 && duration.0.is_finite() && duration.0 >= 0.0;
    let flat = factor.0.0 == 0.0;
    valid.then(|| {
        if flat {
            GrownSea::FLAT
        } else {
            by_duration(factor.0.0, duration)
        }
    })
}

/// How long a wind must blow before the fetch alone decides, seconds: t = 68.8 F^(2/3) / (g UA)^(1/3), deep water.
/// None without wind, or where a value is no finite number from 0 up. Source: ACES Technical Reference 1-1.
pub fn least_duration(factor: WindFactor, fetch: Metres) -> Option<Seconds> {
    let valid = factor.0.0.is_finite() && factor.0.0 > 0.0 && fetch.0.is_finite() && fetch.0 >= 0.0;
    valid.then(|| Seconds(68.8 * fetch.0.cbrt().powi(2) / (GRAVITY * factor.0.0).cbrt()))
}

/// Fetch limited, deep: H = 0.0016 UA^2/g x^(1/2), T = 0.2857 UA/g x^(1/3), x = g F / UA^2.
fn deep_by_fetch(speed: f64, fetch: Metres) -> GrownSea {
    let x = GRAVITY * fetch.0 / (speed * speed);
    developed_at_most(speed, 0.0016 * x.sqrt(), 0.2857 * x.cbrt())
}

/// Fetch limited over a depth: the form that the ACES guide's first example is worked with.
fn shallow_by_fetch(speed: f64, fetch: Metres, depth: Metres) -> GrownSea {
    let x = GRAVITY * fetch.0 / (speed * speed);
    let depths = GRAVITY * depth.0 / (speed * speed);
    let for_height = (0.530 * depths.powf(0.75)).tanh();
    let for_period = (0.833 * depths.powf(0.375)).tanh();
    developed_at_most(
        speed,
        0.283 * for_height * (0.00565 * x.sqrt() / for_height).tanh(),
        7.54 * for_period * (0.0379 * x.cbrt() / for_period).tanh(),
    )
}

/// Duration limited, deep: H = 8.51e-5 UA^2/g (g t / UA)^(5/7), T = 0.0702 UA/g (g t / UA)^0.411.
fn by_duration(speed: f64, duration: Seconds) -> GrownSea {
    let times = GRAVITY * duration.0 / speed;
    developed_at_most(speed, 8.51e-5 * times.powf(5.0 / 7.0), 0.0702 * times.powf(0.411))
}

/// Height in parts of UA^2/g and period in parts of UA/g, no more than those of a fully developed sea.
fn developed_at_most(speed: f64, height: f64, period: f64) -> GrownSea {
    GrownSea {
        height: Metres(height.min(FULLY_DEVELOPED_HEIGHT) * speed * speed / GRAVITY),
        period: Seconds(period.min(FULLY_DEVELOPED_PERIOD) * speed / GRAVITY),
    }
}

/// Open water by the direction it is seen in: which way the wind comes *from*, and metres to the shore there.
#[derive(Clone, Debug, PartialEq)]
pub struct FetchTable(Vec<(DirectionFrom, Metres)>);

impl FetchTable {
    /// A table of at least one direction, in any order. None where it is empty, names a direction twice, or holds a fetch
    /// that is no finite number from 0 up.
    pub fn new(mut rows: Vec<(DirectionFrom, Metres)>) -> Option<Self> {
        rows.sort_by(|a, b| a.0.degrees().total_cmp(&b.0.degrees()));
        let fetches = rows
            .iter()
            .all(|(_, fetch)| fetch.0.is_finite() && fetch.0 >= 0.0);
        let directions = rows.iter().all(|(from, _)| from.degrees().is_finite());
        let distinct = rows.windows(2).all(|pair| pair[0].0 != pair[1].0);
        (!rows.is_empty() && fetches && directions && distinct).then_some(Self(rows))
    }

    /// Its rows, by direction from north clockwise.
    pub fn rows(&self) -> &[(DirectionFrom, Metres)] {
        &self.0
    }

    /// Metres of open water in a direction: linear between the table's two directions around it, through north too.
    pub fn fetch(&self, from: DirectionFrom) -> Metres {
        let after = self.0.partition_point(|row| row.0.degrees() <= from.degrees());
        let count = self.0.len();
        let (before, after) = (self.0[(after + count - 1) % count], self.0[after % count]);
        let gap = normalise_degrees(after.0.degrees() - before.0.degrees());
        if gap == 0.0 {
            return before.1;
        }
        let part = normalise_degrees(from.degrees() - before.0.degrees()) / gap;
        Metres(before.1.0 + part * (after.1.0 - before.1.0))
    }

    /// The longest of its fetches, metres.
    pub fn longest(&self) -> Metres {
        self.0.iter().map(|row| row.1).fold(Metres(0.0), Metres::max)
    }

    /// The highest sea that a wind raises over this water, and where it comes from.
    ///
    /// The wind is a mean at 10 m, m/s; duration and depth as in [`Blow`]. Down a long water a wind at an angle raises
    /// more than across the short way it blows itself, so each direction of the table is tried with the wind's part
    /// along it (ACES Technical Reference 1-1, restricted fetches), and the wind's own direction. None as in [`grown_sea`].
    pub fn highest_sea(
        &self,
        wind: MetresPerSecond,
        wind_from: DirectionFrom,
        duration: Option<Seconds>,
        depth: Option<Metres>,
    ) -> Option<(GrownSea, DirectionFrom)> {
        let blow = |fetch| Blow {
            fetch,
            duration,
            depth,
        };
        let factor = WindFactor::of_wind(wind);
        let mut highest = (grown_sea(wind, blow(self.fetch(wind_from)))?, wind_from);
        for &(from, fetch) in &self.0 {
            let along = factor.along(signed_difference(wind_from.degrees(), from.degrees()));
            let sea = grown_sea_of_factor(along, blow(fetch))?;
            if sea.height > highest.0.height {
                highest = (sea, from);
            }
        }
        Some(highest)
    }
}
