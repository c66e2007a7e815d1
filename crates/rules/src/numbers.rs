//! The numbers of one instant, as the rules judge them: plain, small, made once from the conditions.
//!
//! Owns: that small form. Must not know: limits, where a value came from (the conditions still say it).

use club::Quantity;
use conditions::{HourConditions, Known};
use forecast::Gap;

/// A number, or none. Kept in eight bytes, so that ten days of an ensemble lie close together.
#[derive(Clone, Copy, Debug)]
pub struct Maybe(f64);

impl Maybe {
    /// None.
    pub const NONE: Self = Self(f64::NAN);

    /// The number, if there is one.
    pub fn known(self) -> Option<f64> {
        (!self.0.is_nan()).then_some(self.0)
    }

    fn of<T: Copy>(known: &Known<T>, number: impl Fn(T) -> f64) -> Self {
        known
            .as_ref()
            .map_or(Self::NONE, |reading| Self(number(reading.value)))
    }

    /// What is known of it at other points of the venue, where it is missing as a whole.
    fn elsewhere<T>(known: &Known<T>) -> Self {
        Self::from(known.as_ref().err().and_then(|missing| missing.elsewhere))
    }
}

impl From<Option<f64>> for Maybe {
    fn from(number: Option<f64>) -> Self {
        number.map_or(Self::NONE, Self)
    }
}

/// One instant of one member in numbers; the units are those of [`Quantity`].
#[derive(Clone, Copy, Debug)]
pub struct HourNumbers {
    /// Mean wind, kn.
    pub mean: Maybe,
    /// Where it comes from, degrees.
    pub from: Maybe,
    /// Gust, kn.
    pub gust: Maybe,
    /// Significant wave height, m.
    pub wave: Maybe,
    /// Where the waves come from, degrees.
    pub wave_from: Maybe,
    /// Height over length.
    pub steepness: Maybe,
    /// CAPE, J/kg.
    pub cape: Maybe,
    /// Rain, mm/h.
    pub rain: Maybe,
    /// Visibility, m.
    pub visibility: Maybe,
    /// Air, degrees Celsius.
    pub air: Maybe,
    /// Water, degrees Celsius.
    pub water: Maybe,
    /// CAPE and rain are given by no source: then nobody can miss them.
    pub no_thunder_given: bool,
    /// The five quantities of [`HourNumbers::elsewhere`], in its order.
    elsewhere: [Maybe; 5],
}

impl From<&HourConditions> for HourNumbers {
    fn from(hour: &HourConditions) -> Self {
        Self {
            mean: Maybe::of(&hour.wind, |wind| wind.speed.0),
            from: Maybe::of(&hour.wind, |wind| wind.from.degrees()),
            gust: Maybe::of(&hour.gust, |gust| gust.0),
            wave: Maybe::of(&hour.wave_height, |wave| wave.0),
            wave_from: Maybe::of(&hour.wave_from, |from| from.degrees()),
            steepness: Maybe::of(&hour.steepness, |steepness| steepness),
            cape: Maybe::of(&hour.cape_j_per_kg, |cape| cape),
            rain: Maybe::of(&hour.rain_mm_per_h, |rain| rain),
            visibility: Maybe::of(&hour.visibility, |visibility| visibility.0),
            air: Maybe::of(&hour.air, |air| air.0),
            water: Maybe::of(&hour.water, |water| water.0),
            no_thunder_given: never_given(&hour.cape_j_per_kg) || never_given(&hour.rain_mm_per_h),
            elsewhere: [
                Maybe::elsewhere(&hour.wind),
                Maybe::elsewhere(&hour.gust),
                Maybe::elsewhere(&hour.wave_height),
                Maybe::elsewhere(&hour.visibility),
                Maybe::elsewhere(&hour.water),
            ],
        }
    }
}

impl HourNumbers {
    /// What is known at other points of the venue of a quantity that is missing as a whole. Only of those that are judged
    /// as they are: what is worked out from several values is not told by one of them.
    pub fn elsewhere(&self, quantity: Quantity) -> Option<f64> {
        let place = match quantity {
            Quantity::Mean => 0,
            Quantity::Gust => 1,
            Quantity::WaveHeight => 2,
            Quantity::Visibility => 3,
            Quantity::WaterTemperature => 4,
            _ => return None,
        };
        self.elsewhere[place].known()
    }

    /// Mean and gust with a lift, kn: never below calm, the gust in proportion and never below the mean.
    pub fn lifted(mut self, lift: f64) -> Self {
        let Some(before) = self.mean.known().filter(|_| lift != 0.0) else {
            return self;
        };
        let after = (before + lift).max(0.0);
        self.mean = Maybe(after);
        if let Some(gust) = self.gust.known() {
            let factor = if before > 0.0 { gust / before } else { 1.0 };
            self.gust = Maybe((gust + lift * factor).max(after));
        }
        self
    }
}

/// Whether no source of the club offers a value: then it is not missing, it was never asked for.
fn never_given<T>(known: &Known<T>) -> bool {
    let gap = known.as_ref().err().map(|missing| (missing.gap, &missing.source));
    matches!(gap, Some((Gap::NotInFeed, _) | (Gap::NoRun, None)))
}
