//! Entrance: a sea that runs into it, or wind against the stream in it, when she passes (common practice, no source).
//!
//! The stream counts whatever the wind's direction: a wind off the land raises a sea on it as well.

use super::wind_against_stream::opposing;
use super::{CautionCode, CautionDetail, CautionFound, CautionView};
use crate::verdict::VerdictHour;
use seaway::Metres;

/// On leaving.
pub fn leaving(view: CautionView<'_>) -> Option<CautionFound> {
    let (out, _) = view.passages?;
    at(view, out, CautionCode::EntranceLeaving)
}

/// On returning.
pub fn returning(view: CautionView<'_>) -> Option<CautionFound> {
    let (_, home) = view.passages?;
    at(view, home, CautionCode::EntranceReturning)
}

fn at(view: CautionView<'_>, passing: &VerdictHour, code: CautionCode) -> Option<CautionFound> {
    let entrance = view.outing.venue.entrance.as_ref()?;
    // A sea whose direction is not known is taken to run in.
    let runs_in = entrance
        .open_to
        .zip(passing.wave_from)
        .is_none_or(|(open_to, from)| open_to.holds(from));
    let rough = |sea: &Metres| runs_in && *sea >= view.outing.policy.entrance_sea_m;
    let sea = passing.wave_height.filter(rough);
    let against = opposing(passing, view.outing.policy);
    if sea.is_none() && against.is_none() && !passing.breaking {
        return None;
    }
    Some(CautionFound {
        code,
        from: passing.at,
        to: passing.at,
        detail: CautionDetail::Entrance {
            name: entrance.name.clone(),
            sea,
            against,
            breaking: passing.breaking,
        },
    })
}
