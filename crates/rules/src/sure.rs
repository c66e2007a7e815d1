//! How much a call can be leaned on.

use crate::call::Call;
use club::Policy;
use serde::Serialize;

/// Firm, likely or an early view.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Firmness {
    /// Too far or too wide to lean on.
    EarlyView,
    /// Good enough to plan by.
    Likely,
    /// Near, with little spread.
    Firm,
}

/// What firmness is made from.
#[derive(Clone, Copy, Debug)]
pub struct Grounds {
    /// The call.
    pub call: Call,
    /// Hours from now to leaving.
    pub hours_ahead: f64,
    /// Probability of no-go, floors included; none where it is not known.
    pub p_no_go: Option<f64>,
    /// Probability of marginal or worse, floors included.
    pub p_marginal_or_worse: Option<f64>,
    /// An ensemble was counted, not one run alone.
    pub has_ensemble: bool,
    /// A gust is the maximum of more than three hours.
    pub long_gust: bool,
    /// Official warnings were checked.
    pub warnings_checked: bool,
    /// Two ensembles would call differently.
    pub sources_differ: bool,
}

/// By lead time and spread. A go without warnings checked is never firm; one run alone, or two ensembles that differ, never either; a call that nothing
/// supports is an early view.
pub fn firmness(policy: &Policy, grounds: Grounds) -> Firmness {
    let agreement = agreement(grounds);
    let by_time = if grounds.hours_ahead <= policy.firm_within_h && agreement >= policy.firm_agreement {
        Firmness::Firm
    } else if grounds.hours_ahead <= policy.likely_within_h && agreement >= policy.likely_agreement {
        Firmness::Likely
    } else {
        Firmness::EarlyView
    };
    let mut most = Firmness::Firm;
    if !grounds.has_ensemble
        || grounds.sources_differ
        || (grounds.call == Call::Go && !grounds.warnings_checked)
    {
        most = Firmness::Likely;
    }
    if grounds.long_gust || grounds.call == Call::NoCall {
        most = Firmness::EarlyView;
    }
    by_time.min(most)
}

/// Share of what was counted that agrees with the call. A marginal call is agreed with by all that is not clearly the
/// other way: it already says "with care".
fn agreement(grounds: Grounds) -> f64 {
    let (Some(no_go), Some(worse)) = (grounds.p_no_go, grounds.p_marginal_or_worse) else {
        return 0.0;
    };
    match grounds.call {
        Call::Go => 1.0 - worse,
        Call::Marginal => 1.0 - no_go,
        Call::NoGo => no_go,
        Call::NoCall => 0.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn firm(grounds: Grounds) -> Firmness {
        firmness(&Policy::default(), grounds)
    }

    fn grounds(call: Call, hours_ahead: f64, p_no_go: f64, p_worse: f64) -> Grounds {
        Grounds {
            call,
            hours_ahead,
            p_no_go: Some(p_no_go),
            p_marginal_or_worse: Some(p_worse),
            has_ensemble: true,
            long_gust: false,
            warnings_checked: false,
            sources_differ: false,
        }
    }

    #[test]
    fn a_go_without_warnings_checked_is_never_firm() {
        assert_eq!(firm(grounds(Call::Go, 6.0, 0.0, 0.0)), Firmness::Likely);
        assert_eq!(
            firm(Grounds {
                warnings_checked: true,
                ..grounds(Call::Go, 6.0, 0.0, 0.0)
            }),
            Firmness::Firm
        );
        assert_eq!(firm(grounds(Call::NoGo, 6.0, 0.9, 1.0)), Firmness::Firm);
    }

    #[test]
    fn far_or_wide_is_an_early_view_and_so_is_no_call() {
        assert_eq!(firm(grounds(Call::NoGo, 90.0, 1.0, 1.0)), Firmness::EarlyView);
        assert_eq!(firm(grounds(Call::NoGo, 6.0, 0.45, 0.9)), Firmness::EarlyView);
        assert_eq!(firm(grounds(Call::NoCall, 6.0, 0.0, 0.0)), Firmness::EarlyView);
    }

    #[test]
    fn two_ensembles_that_differ_are_never_firm() {
        let differ = Grounds {
            sources_differ: true,
            ..grounds(Call::NoGo, 6.0, 0.9, 1.0)
        };
        assert_eq!(firm(differ), Firmness::Likely);
    }

    #[test]
    fn one_run_alone_is_never_firm() {
        let alone = Grounds {
            has_ensemble: false,
            ..grounds(Call::NoGo, 6.0, 1.0, 1.0)
        };
        assert_eq!(firm(alone), Firmness::Likely);
    }
}
