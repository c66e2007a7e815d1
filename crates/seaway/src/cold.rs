//! Cold: wind chill.
//!
//! Owns: the formula and where it holds. Must not know: limits.

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
