//! The way home: to windward, against more wind than on leaving (common practice, no source).

use super::{CautionCode, CautionDetail, CautionFound, CautionView};
use crate::legs::Lie;
use crate::verdict::VerdictHour;
use chrono::TimeDelta;
use seaway::Knots;

/// Holds from the hour to turn for home, where legs are given and the last of them, at an hour of the last part of the outing, lies
/// too close to the wind to sail in a wind that has risen by the policy's since leaving.
///
/// That part is the outing's share of the last leg's length in all legs. Without legs the way home is not known, and nothing is told.
pub fn find(view: CautionView<'_>) -> Option<CautionFound> {
    let outing = view.outing;
    let last = outing.legs.last()?;
    let leaving = view.leaving()?.wind?.speed;
    let whole: f64 = outing.legs.iter().map(|leg| leg.distance.0).sum();
    let out_for = (outing.alongside - outing.leaves).num_seconds() as f64;
    // Conditions are looked at by the hour: the hour before counts as well.
    let share = TimeDelta::try_seconds((out_for * last.distance.0 / whole) as i64)?;
    let begins = outing.alongside - share - TimeDelta::hours(1);
    let beats = |hour: &VerdictHour| {
        let (wind, lie) = (hour.wind?, Lie::of(*last, hour, outing)?);
        let rise = Knots(wind.speed.0 - leaving.0);
        (rise >= outing.policy.rise_kn).then_some((rise, lie.tacked?))
    };
    let (rise, tacked) = view
        .out()
        .filter(|hour| hour.at > begins)
        .filter_map(beats)
        .reduce(|(rise, tacked), (more, further)| (rise.max(more), tacked.max(further)))?;
    let policy = outing.policy;
    let takes_min = last.distance.0 / policy.home_made_good_kn.0 * 60.0 + policy.home_spare_min;
    let turn_by = TimeDelta::try_seconds((takes_min * 60.0).round() as i64)
        .and_then(|takes| outing.alongside.checked_sub_signed(takes))
        .filter(|&turn_by| turn_by > outing.leaves);
    Some(CautionFound {
        code: CautionCode::WayHome,
        from: turn_by.unwrap_or(outing.leaves),
        to: outing.alongside,
        detail: CautionDetail::WayHome {
            distance: last.distance,
            tacked,
            rise,
            takes_min,
            turn_by,
        },
    })
}
