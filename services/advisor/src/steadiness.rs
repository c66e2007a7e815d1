//! Whether the call that stands for a session holds back a kinder one.

use advisory::Advisory;
use advisory::document::CallWord;
use rules::{CallState, steadied};

/// The standing call, where it holds back the new one.
pub fn held_by(standing: &Advisory, new: &Advisory) -> Option<CallWord> {
    let (standing, new) = (state(standing), state(new));
    let published = steadied(standing, new);
    (published != new.bare).then_some(published.into())
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
