//! Onshore shift: a shore that was safe on leaving lies to leeward before the return (common practice, no source).

use super::lee_shore::{is_near, leeward};
use super::{CautionCode, CautionDetail, CautionFound, CautionView};
use crate::verdict::VerdictHour;
use club::Shore;

/// Holds, shore by shore, from the first to the last hour out at which the wind blows on to a shore that did not lie to leeward on
/// leaving. Where the wind on leaving is not known nothing is told here; the lee shore itself still is.
pub fn find(view: CautionView<'_>) -> Vec<CautionFound> {
    let outing = view.outing;
    let Some(first) = view.leaving().and_then(|hour| hour.wind) else {
        return Vec::new();
    };
    let turned_on = |hour: &VerdictHour, shore: &Shore| {
        let blows = |wind: &seaway::Wind| wind.speed >= outing.policy.lee_shore_from_kn;
        hour.wind
            .filter(blows)
            .is_some_and(|wind| leeward(wind.from, shore))
    };
    let safe_at_first = |shore: &&Shore| is_near(shore, outing.policy) && !leeward(first.from, shore);
    let shores = outing.venue.shores.iter().filter(safe_at_first);
    shores
        .filter_map(|shore| {
            let (from, to) = view.span(|hour| turned_on(hour, shore))?;
            Some(CautionFound {
                code: CautionCode::OnshoreShift,
                from,
                to,
                detail: CautionDetail::TurnsOnshore {
                    name: shore.name.clone(),
                    distance: shore.distance,
                },
            })
        })
        .collect()
}
