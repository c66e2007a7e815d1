//! Clip on: in a lively sea everyone who leaves the cockpit is clipped on (common practice, no source).

use super::{CautionCode, CautionDetail, CautionFound, CautionView, cautious_gust};
use crate::verdict::VerdictHour;
use seaway::{Knots, Metres};

/// Holds from the first to the last hour whose gust or wave reaches the policy's, or whose row has two reefs or more.
pub fn find(view: CautionView<'_>) -> Option<CautionFound> {
    let policy = view.outing.policy;
    let gusty = |hour: &VerdictHour| cautious_gust(hour).is_some_and(|gust| gust >= policy.clip_on_gust_kn);
    let rough = |hour: &VerdictHour| hour.wave_height.is_some_and(|wave| wave >= policy.clip_on_wave_m);
    let lively = |hour: &VerdictHour| gusty(hour) || rough(hour);
    let (from, to) = view.span(lively)?;
    let highest = |values: Vec<f64>| values.into_iter().reduce(f64::max);
    let gust = highest(
        view.out()
            .filter(|h| gusty(h))
            .filter_map(|h| cautious_gust(h).map(|g| g.0))
            .collect(),
    );
    let wave = highest(
        view.out()
            .filter(|h| rough(h))
            .filter_map(|h| h.wave_height.map(|w| w.0))
            .collect(),
    );
    let detail = CautionDetail::Lively {
        gust: gust.map(Knots),
        wave: wave.map(Metres),
    };
    Some(CautionFound {
        code: CautionCode::ClipOn,
        from,
        to,
        detail,
    })
}
