//! Cold: wind that chills, water that takes the breath away (thresholds of common practice, no source).

use super::{CautionCode, CautionDetail, CautionFound, CautionView};
use crate::verdict::VerdictHour;
use seaway::{Celsius, cold};

/// Holds from the first to the last hour whose wind chill or water is at or below the policy's.
pub fn find(view: CautionView<'_>) -> Option<CautionFound> {
    let policy = view.outing.policy;
    let raw = |hour: &VerdictHour| feels_like(hour).is_some_and(|felt| felt <= policy.cold_chill_c);
    let icy = |hour: &VerdictHour| hour.water.is_some_and(|water| water <= policy.cold_water_c);
    let (from, to) = view.span(|hour| raw(hour) || icy(hour))?;
    let lowest = |values: Vec<Celsius>| {
        values
            .into_iter()
            .map(|value| value.0)
            .reduce(f64::min)
            .map(Celsius)
    };
    Some(CautionFound {
        code: CautionCode::Cold,
        from,
        to,
        detail: CautionDetail::Cold {
            feels_like: lowest(
                view.out()
                    .filter(|hour| raw(hour))
                    .filter_map(feels_like)
                    .collect(),
            ),
            water: lowest(
                view.out()
                    .filter(|hour| icy(hour))
                    .filter_map(|hour| hour.water)
                    .collect(),
            ),
        },
    })
}

/// Wind chill where it is defined, the air's own temperature where it is too mild for it.
fn feels_like(hour: &VerdictHour) -> Option<Celsius> {
    let air = hour.air?;
    let chill = hour.wind.and_then(|wind| cold::wind_chill(air, wind.speed));
    Some(chill.unwrap_or(air))
}
