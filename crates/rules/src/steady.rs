//! Steadiness: an issued call that gets worse is published at once, a kinder one only when there is reason to believe it
//! (common practice, no source).

use crate::call::Call;
use chrono::{DateTime, Utc};
use club::Policy;

/// What is compared of an issued advisory and of the one that would take its place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CallState {
    /// The call of the forecast alone, before steadiness.
    pub bare: Call,
    /// The call as issued; for the one that would take its place the same as `bare`.
    pub issued: Call,
    /// Probability of no-go.
    pub p_no_go: Option<f64>,
    /// Probability of marginal or worse.
    pub p_marginal_or_worse: Option<f64>,
    /// Least margin of mean wind or gust to its stop, kn; none where neither is among the reasons.
    pub wind_margin_kn: Option<f64>,
    /// Reference time of the run of the wind.
    pub run: Option<DateTime<Utc>>,
}

/// The call to publish: the new one, or the standing one where a kinder call is not yet believed.
///
/// A kinder call is believed when two runs agree on it, when the chance of what was called has fallen by ten points, or when the wind's
/// margin has grown by a knot. No call gives way at once: it says nothing of the weather.
pub fn steadied(policy: &Policy, standing: CallState, new: CallState) -> Call {
    let kinder = new.bare < standing.issued && standing.issued != Call::NoCall;
    let two_runs_agree = standing.bare <= new.bare && standing.run != new.run;
    if !kinder
        || two_runs_agree
        || probability_fell(policy, standing, new)
        || margin_grew(policy, standing, new)
    {
        return new.bare;
    }
    standing.issued
}

fn probability_fell(policy: &Policy, standing: CallState, new: CallState) -> bool {
    let (before, after) = match standing.issued {
        Call::NoGo => (standing.p_no_go, new.p_no_go),
        _ => (standing.p_marginal_or_worse, new.p_marginal_or_worse),
    };
    matches!((before, after), (Some(before), Some(after)) if before - after >= policy.kinder_probability - 1e-9)
}

fn margin_grew(policy: &Policy, standing: CallState, new: CallState) -> bool {
    match (standing.wind_margin_kn, new.wind_margin_kn) {
        (Some(before), Some(after)) => after - before >= policy.kinder_margin_kn.0,
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn held(standing: CallState, new: CallState) -> Call {
        steadied(&Policy::default(), standing, new)
    }

    fn state(call: Call, p_no_go: f64, margin: f64, run_hour: u32) -> CallState {
        let run = format!("2030-05-13T{run_hour:02}:00:00Z")
            .parse()
            .expect("a time");
        CallState {
            bare: call,
            issued: call,
            p_no_go: Some(p_no_go),
            p_marginal_or_worse: Some(0.9),
            wind_margin_kn: Some(margin),
            run: Some(run),
        }
    }

    #[test]
    fn worse_is_published_at_once() {
        let standing = state(Call::Marginal, 0.38, 1.0, 0);
        assert_eq!(held(standing, state(Call::NoGo, 0.41, 0.8, 6)), Call::NoGo);
    }

    #[test]
    fn a_little_kinder_is_held_until_a_second_run_agrees() {
        let standing = state(Call::NoGo, 0.42, -0.5, 0);
        let kinder = state(Call::Marginal, 0.38, 0.2, 6);
        assert_eq!(held(standing, kinder), Call::NoGo);
        // Held: issued no-go, but the run of 06 said marginal. The run of 12 says so too.
        let standing_still = CallState {
            issued: Call::NoGo,
            ..kinder
        };
        assert_eq!(
            held(standing_still, state(Call::Marginal, 0.38, 0.2, 12)),
            Call::Marginal
        );
        // The same run looked at again is not a second run.
        assert_eq!(held(standing_still, kinder), Call::NoGo);
    }

    #[test]
    fn clearly_kinder_is_published() {
        let standing = state(Call::NoGo, 0.42, -0.5, 0);
        assert_eq!(
            held(standing, state(Call::Marginal, 0.32, -0.5, 6)),
            Call::Marginal,
            "ten points"
        );
        assert_eq!(
            held(standing, state(Call::Marginal, 0.39, 0.5, 6)),
            Call::Marginal,
            "one knot"
        );
    }

    #[test]
    fn no_call_gives_way_to_any_call() {
        let standing = CallState {
            p_no_go: None,
            ..state(Call::NoCall, 0.0, 0.0, 0)
        };
        assert_eq!(held(standing, state(Call::Go, 0.0, 5.0, 6)), Call::Go);
    }
}
