//! Fog and poor visibility: below two nautical miles it is poor, below 1,000 m it is fog (UK Met Office shipping forecast
//! terms); with air and dew point more than 2.5 degrees apart fog is rare (glossary of the American Meteorological Society).

use super::{CautionCode, CautionDetail, CautionFound, CautionView};
use crate::verdict::VerdictHour;
use seaway::Metres;

/// Holds from the first to the last hour of poor visibility; where visibility is not known, of air nearly as humid as it
/// can be.
pub fn find(view: CautionView<'_>) -> Option<CautionFound> {
    let policy = view.outing.policy;
    let poor = |hour: &VerdictHour| match (hour.visibility, hour.air.zip(hour.dew_point)) {
        (Some(visibility), _) => visibility < policy.poor_visibility_m,
        (None, Some((air, dew_point))) => air.0 - dew_point.0 <= policy.fog_spread_c,
        (None, None) => false,
    };
    let (from, to) = view.span(poor)?;
    let seen = view
        .out()
        .filter_map(|hour| hour.visibility)
        .filter(|seen| *seen < policy.poor_visibility_m);
    Some(CautionFound {
        code: CautionCode::Fog,
        from,
        to,
        detail: CautionDetail::Fog {
            visibility: seen.map(|seen| seen.0).reduce(f64::min).map(Metres),
        },
    })
}
