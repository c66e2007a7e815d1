//! Preventer: from a broad reach on the accidental gybe is the one that hurts (common practice, no source).

use super::{CautionCode, CautionDetail, CautionFound, CautionView};
use crate::legs::{LegSailed, along};
use crate::verdict::VerdictHour;

/// True wind angle from which a course is a dead run, degrees (common practice, no source).
const DEAD_RUN_FROM_DEG: f64 = 165.0;

/// Holds while a leg that she may then be on has a true wind angle at or past the policy's. Where no legs are given any course may be
/// that deep, so it holds whenever there is wind to sail by.
pub fn find(view: CautionView<'_>) -> Option<CautionFound> {
    let outing = view.outing;
    let legs = along(outing, view.hours);
    let sails = |hour: &VerdictHour| {
        hour.wind
            .is_some_and(|wind| wind.speed >= outing.level.light_below)
    };
    let deepest = |hour: &VerdictHour| -> Option<f64> {
        let wind = hour.wind?;
        let then = |leg: &&LegSailed| leg.may_be_on_it(hour.at);
        legs.iter()
            .filter(then)
            .map(|leg| wind.true_wind_angle(leg.leg.bearing))
            .reduce(f64::max)
    };
    let deep_enough = |hour: &VerdictHour| {
        legs.is_empty() || deepest(hour).is_some_and(|angle| angle >= outing.policy.preventer_from_deg)
    };
    let holds = |hour: &VerdictHour| sails(hour) && deep_enough(hour);
    let (from, to) = view.span(holds)?;
    let angle = view
        .out()
        .filter(|hour| holds(hour))
        .filter_map(deepest)
        .reduce(f64::max);
    let keep_off_dead_run = outing.level.learners && angle.is_none_or(|angle| angle >= DEAD_RUN_FROM_DEG);
    let detail = CautionDetail::Deep {
        true_wind_angle: angle,
        keep_off_dead_run,
    };
    Some(CautionFound {
        code: CautionCode::Preventer,
        from,
        to,
        detail,
    })
}
