//! Wind against stream: a short, steep sea where the tidal stream runs against the wind (common practice, no source).

use super::{CautionCode, CautionDetail, CautionFound, CautionView};
use crate::verdict::VerdictHour;
use club::Policy;
use seaway::Knots;

/// Holds from the first to the last hour out whose stream against the wind and whose mean wind both reach the policy's.
pub fn find(view: CautionView<'_>) -> Option<CautionFound> {
    let against = |hour: &VerdictHour| opposing(hour, view.outing.policy);
    let (from, to) = view.span(|hour| against(hour).is_some())?;
    let strongest = view.out().filter_map(|hour| against(hour).map(|rate| rate.0));
    let breaking = view.out().any(|hour| against(hour).is_some() && hour.breaking);
    Some(CautionFound {
        code: CautionCode::WindAgainstStream,
        from,
        to,
        detail: CautionDetail::AgainstStream {
            strongest: Knots(strongest.fold(0.0, f64::max)),
            breaking,
        },
    })
}

/// The rate that runs against the wind, kn, where it and the mean wind reach the policy's.
pub(super) fn opposing(hour: &VerdictHour, policy: &Policy) -> Option<Knots> {
    let blows = hour
        .wind
        .is_some_and(|wind| wind.speed >= policy.stream_against_wind_kn);
    hour.opposing_stream
        .filter(|&rate| blows && rate >= policy.stream_against_from_kn)
}
