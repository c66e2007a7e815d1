//! Whether the call that stands for a session holds back a kinder one, and how the call has moved over the runs.

use advisory::Advisory;
use advisory::document::{CallWord, PastCall};
use chrono::{DateTime, Utc};
use club::Policy;
use rules::{CallState, steadied};

/// The standing call, where it holds back the new one.
pub fn held_by(policy: &Policy, standing: &Advisory, new: &Advisory) -> Option<CallWord> {
    let (standing, new) = (state(standing), state(new));
    let published = steadied(policy, standing, new);
    (published != new.bare).then_some(published.into())
}

/// Runs before the present one that are shown.
const RUNS_SHOWN: usize = 5;

/// What the runs before the present one said: those the standing advisory knew, and its own where it was another.
pub fn moved_since(standing: &Advisory, run: Option<DateTime<Utc>>) -> Vec<PastCall> {
    let mut moved = standing.moved.clone();
    let stood = state(standing);
    if let Some(before) = stood.run.filter(|before| Some(*before) != run) {
        moved.push(PastCall {
            run: before,
            call: stood.bare.into(),
            p_no_go: stood.p_no_go,
        });
    }
    // A run that comes back, because a newer one was withdrawn, is not its own past.
    moved.retain(|past| Some(past.run) != run);
    let surplus = moved.len().saturating_sub(RUNS_SHOWN);
    moved.split_off(surplus)
}

fn state(advisory: &Advisory) -> CallState {
    let is_wind = |quantity: &str| matches!(quantity, "mean_kn" | "gust_kn");
    let winds = advisory.reasons.iter().filter(|reason| is_wind(&reason.quantity));
    let wind_run = advisory
        .sources
        .iter()
        .find(|used| used.used_for == "wind and gust" && used.notes.is_empty());
    CallState {
        bare: advisory.kinder_forecast.unwrap_or(advisory.call).into(),
        issued: advisory.call.into(),
        p_no_go: advisory.sureness.p_no_go,
        p_marginal_or_worse: advisory.sureness.p_marginal_or_worse,
        wind_margin_kn: winds.map(|reason| reason.margin).reduce(f64::min),
        run: wind_run.and_then(|used| used.run),
    }
}
