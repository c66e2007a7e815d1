//! Lee shore: a shore to leeward near enough to be blown on (common practice, no source).

use super::{CautionCode, CautionDetail, CautionFound, CautionView};
use crate::verdict::VerdictHour;
use club::{Policy, Shore};
use seaway::DirectionFrom;
use seaway::quantity::signed_difference;

/// Holds, shore by shore, while the wind reaches the policy's and blows on to the shore within its width.
pub fn find(view: CautionView<'_>) -> Vec<CautionFound> {
    let policy = view.outing.policy;
    let blows_on = |hour: &VerdictHour, shore: &Shore| {
        hour.wind
            .is_some_and(|wind| wind.speed >= policy.lee_shore_from_kn && leeward(wind.from, shore))
    };
    view.outing
        .venue
        .shores
        .iter()
        .filter(|shore| is_near(shore, policy))
        .filter_map(|shore| {
            let (from, to) = view.span(|hour| blows_on(hour, shore))?;
            let detail = CautionDetail::Shore {
                name: shore.name.clone(),
                distance: shore.distance,
            };
            Some(CautionFound {
                code: CautionCode::LeeShore,
                from,
                to,
                detail,
            })
        })
        .collect()
}

/// Near enough to be warned of.
pub(super) fn is_near(shore: &Shore, policy: &Policy) -> bool {
    shore.distance <= policy.lee_shore_within_nm
}

/// A wind from there blows on to the shore.
pub(super) fn leeward(from: DirectionFrom, shore: &Shore) -> bool {
    let off = signed_difference(shore.bearing.degrees(), from.towards().degrees());
    off.abs() <= shore.width_deg / 2.0
}
