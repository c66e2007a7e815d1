//! Cold: wind chill, and how long people last in cold water.
//!
//! Owns: the formula and where it holds, the table. Must not know: limits.

use crate::quantity::{Celsius, Knots};

/// Kilometres an hour in one knot, exactly.
const KM_PER_H_PER_KNOT: f64 = 1.852;

/// Wind chill from air temperature and the 10 m wind, degrees Celsius.
///
/// None where it is not defined: in air above 10 degrees or in wind of 4.8 km/h (2.6 kn) or less. There the air temperature
/// itself says how cold it is. Source: Meteorological Service of Canada and US National Weather Service (2001 formula),
/// 13.12 + 0.6215 T - 11.37 V^0.16 + 0.3965 T V^0.16 with V in km/h.
pub fn wind_chill(air: Celsius, wind: Knots) -> Option<Celsius> {
    let km_per_h = wind.0 * KM_PER_H_PER_KNOT;
    let defined = air.0.is_finite() && air.0 <= 10.0 && km_per_h.is_finite() && km_per_h > 4.8;
    defined.then(|| {
        let power = km_per_h.powf(0.16);
        Celsius(13.12 + 0.6215 * air.0 - 11.37 * power + 0.3965 * air.0 * power)
    })
}

/// How long people last in water, as printed: bands that are wide by nature, guidance and no prediction.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TimeInWater {
    /// Until they are exhausted or lose consciousness.
    pub exhaustion: &'static str,
    /// How long they are expected to survive.
    pub survival: &'static str,
}

/// Upper bound of a band, degrees Fahrenheit, and its times. Source: cold-water table of the US Search and Rescue Task Force.
const TIMES_IN_WATER: [(f64, TimeInWater); 6] = [
    (32.5, times("under 15 min", "under 15-45 min")),
    (40.0, times("15-30 min", "30-90 min")),
    (50.0, times("30-60 min", "1-3 h")),
    (60.0, times("1-2 h", "1-6 h")),
    (70.0, times("2-7 h", "2-40 h")),
    (80.0, times("3-12 h", "3 h to indefinite")),
];

const fn times(exhaustion: &'static str, survival: &'static str) -> TimeInWater {
    TimeInWater { exhaustion, survival }
}

/// How long people last in water of a temperature; on a bound the colder band counts. None in warmer water than the table knows,
/// and of a temperature that is no number.
pub fn time_in_water(water: Celsius) -> Option<TimeInWater> {
    let fahrenheit = water.0 * 1.8 + 32.0;
    let band = TIMES_IN_WATER.iter().find(|(up_to, _)| fahrenheit <= *up_to);
    band.map(|(_, times)| *times)
}
