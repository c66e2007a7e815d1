//! Dusk: alongside near sunset or after it.

use super::{CautionCode, CautionDetail, CautionFound, CautionView};

/// Holds from the policy's minutes before sunset to being alongside, when the boat is still out then.
pub fn find(view: CautionView<'_>) -> Option<CautionFound> {
    let outing = view.outing;
    let sunset = outing.sun.sets?;
    let minutes_left = (sunset - outing.alongside).num_seconds() as f64 / 60.0;
    if minutes_left >= outing.policy.dusk_within_min {
        return None;
    }
    let within = chrono::TimeDelta::seconds((outing.policy.dusk_within_min * 60.0).round() as i64);
    let from = (sunset - within).clamp(outing.leaves, outing.alongside);
    let detail = CautionDetail::Dusk { sunset, minutes_left };
    Some(CautionFound {
        code: CautionCode::Dusk,
        from,
        to: outing.alongside,
        detail,
    })
}
