//! Thunder: unstable air with rain (thresholds of common practice, no source; CAPE bands of weather services begin near them).

use super::{CautionCode, CautionDetail, CautionFound, CautionView};
use crate::verdict::VerdictHour;

/// Holds from the first to the last hour whose CAPE and rain both reach the policy's.
pub fn find(view: CautionView<'_>) -> Option<CautionFound> {
    let policy = view.outing.policy;
    let thundery = |hour: &VerdictHour| {
        let cape = hour
            .cape_j_per_kg
            .is_some_and(|cape| cape >= policy.thunder_cape_j_kg);
        cape && hour
            .rain_mm_per_h
            .is_some_and(|rain| rain >= policy.thunder_rain_mm_h)
    };
    let (from, to) = view.span(thundery)?;
    let of_those = view.out().filter(|hour| thundery(hour));
    let cape_j_per_kg = of_those.filter_map(|hour| hour.cape_j_per_kg).fold(0.0, f64::max);
    Some(CautionFound {
        code: CautionCode::Thunder,
        from,
        to,
        detail: CautionDetail::Thunder { cape_j_per_kg },
    })
}
