//! Lee shore: a shore to leeward near enough to be blown on (common practice, no source).

use super::{CautionCode, CautionDetail, CautionFound, CautionView};
use crate::verdict::VerdictHour;
use club::Shore;

/// Holds, shore by shore, while the wind reaches the policy's and blows on to the shore within its width.
pub fn find(view: CautionView<'_>) -> Vec<CautionFound> {
    let policy = view.outing.policy;
    let near = |shore: &&Shore| shore.distance <= policy.lee_shore_within_nm;
    let blows_on = |hour: &VerdictHour, shore: &Shore| {
        hour.wind.is_some_and(|wind| {
            let off = wind.from.towards().degrees() - shore.bearing.degrees();
            wind.speed >= policy.lee_shore_from_kn
                && seaway::quantity::signed_difference(0.0, off).abs() <= shore.width_deg / 2.0
        })
    };
    view.outing
        .venue
        .shores
        .iter()
        .filter(near)
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
