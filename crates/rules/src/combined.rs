//! One call from one or two ensembles and the finest single run: probabilities against the policy's thresholds.
//!
//! Owns: how sources are combined, and the order no-go, no call, marginal, go. Must not know: how a member is judged, reasons,
//! plans.

use crate::call::Call;
use crate::count::{Tally, tally};
use crate::outing::{Forecasts, MemberView, Outing};
use club::{Combine, Policy};

/// The sources of a venue, each counted.
pub(crate) struct Counting<'a> {
    /// The source that carries the call.
    pub(crate) main: (&'a MemberView<'a>, Tally),
    /// The second ensemble.
    pub(crate) second: Option<(&'a MemberView<'a>, Tally)>,
    /// The finest single run, where it is not the main source itself.
    pub(crate) beside: Option<(&'a MemberView<'a>, Tally)>,
}

/// A call with its probabilities.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Alone {
    /// The call.
    pub call: Call,
    /// Probability of no-go, floors included; none where too few members can be called.
    pub p_no_go: Option<f64>,
    /// Probability of marginal or worse.
    pub p_marginal_or_worse: Option<f64>,
}

/// A call without its reasons.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bare {
    /// The call.
    pub call: Call,
    /// Probability of no-go, floors included.
    pub p_no_go: Option<f64>,
    /// Probability of marginal or worse.
    pub p_marginal_or_worse: Option<f64>,
    /// The call of the finest single run.
    pub deterministic: Option<Call>,
    /// The single run past a stop made a go marginal.
    pub raised: bool,
    /// What the main source says alone.
    pub main_alone: Alone,
    /// What the second ensemble says alone.
    pub second_alone: Option<Alone>,
    /// Too few members: the single run alone carries the call, its spread the floors'.
    pub(crate) by_one_run: bool,
    /// The second ensemble is the worse one, or the only one with members enough.
    pub(crate) by_second: bool,
}

impl Bare {
    /// Two ensembles that would call differently.
    pub fn sources_differ(&self) -> bool {
        self.second_alone
            .is_some_and(|second| second.call != self.main_alone.call)
    }
}

impl<'a> Counting<'a> {
    /// Takes every source through the rules.
    pub(crate) fn of(outing: &Outing<'_>, forecasts: &'a Forecasts<'a>) -> Self {
        let count = |view: &'a MemberView<'a>| (view, tally(outing, view));
        let main = &forecasts.governing;
        let other = |view: &&'a MemberView<'a>| view.source != main.source;
        Self {
            main: count(main),
            second: forecasts.second.as_ref().filter(other).map(count),
            beside: forecasts.deterministic.as_ref().filter(other).map(count),
        }
    }

    /// The call.
    pub(crate) fn bare(&self, outing: &Outing<'_>) -> Bare {
        let policy = outing.policy;
        let (main, beside) = (&self.main.1, self.beside.as_ref().map(|(_, beside)| beside));
        let main_alone = alone(policy, main);
        let second_alone = self.second.as_ref().map(|(_, second)| alone(policy, second));
        let together = together(policy, main_alone, second_alone);
        // Nothing with members enough: the single run carries the call, unless what is known breaks a limit already.
        let one_run = beside.filter(|run| together.call == Call::NoCall && run.enough(policy.members_needed));
        let carried = one_run.map_or(together, |run| alone(policy, run));
        let lone = (main.members.len() == 1).then_some(main);
        let deterministic = beside.or(lone).and_then(one_call);
        let raised = carried.call == Call::Go && deterministic == Some(Call::NoGo);
        Bare {
            call: if raised { Call::Marginal } else { carried.call },
            p_no_go: carried.p_no_go,
            p_marginal_or_worse: carried.p_marginal_or_worse,
            deterministic,
            raised,
            main_alone,
            second_alone,
            by_one_run: one_run.is_some(),
            by_second: second_alone.is_some_and(|second| is_worse(second, main_alone)),
        }
    }

    /// The source that reasons, hours and plan are told by.
    pub(crate) fn carrier(&self, bare: &Bare) -> (&'a MemberView<'a>, &Tally) {
        let beside = self.beside.as_ref().filter(|_| bare.by_one_run);
        let second = self.second.as_ref().filter(|_| bare.by_second);
        let (view, tally) = beside.or(second).unwrap_or(&self.main);
        (view, tally)
    }
}

/// The call of one source by probability: no-go, no call, marginal, go, in this order.
fn alone(policy: &Policy, tally: &Tally) -> Alone {
    let enough = tally.enough(policy.members_needed);
    // Not enough may be known for a probability, but what is known may break a limit already.
    let broken = !enough && reaches(tally.least_no_go(), policy.no_go_from);
    let known = |share: Option<f64>| share.filter(|_| enough);
    let p_no_go = known(tally.no_go());
    let p_marginal_or_worse = known(tally.marginal_or_worse());
    Alone {
        call: if broken {
            Call::NoGo
        } else {
            by_probability(policy, p_no_go, p_marginal_or_worse)
        },
        p_no_go,
        p_marginal_or_worse,
    }
}

/// Two ensembles together. One without members enough leaves the call to the other, unless what it knows breaks a limit
/// already.
fn together(policy: &Policy, main: Alone, second: Option<Alone>) -> Alone {
    let Some(second) = second else { return main };
    let combined = |one: Option<f64>, other: Option<f64>| match (one, other) {
        (Some(one), Some(other)) => Some(match policy.combine {
            Combine::Worse => one.max(other),
            Combine::Mean => (one + other) / 2.0,
        }),
        (one, other) => one.or(other),
    };
    let p_no_go = combined(main.p_no_go, second.p_no_go);
    let p_marginal_or_worse = combined(main.p_marginal_or_worse, second.p_marginal_or_worse);
    let broken = |source: Alone| source.call == Call::NoGo && source.p_no_go.is_none();
    Alone {
        call: if broken(main) || broken(second) {
            Call::NoGo
        } else {
            by_probability(policy, p_no_go, p_marginal_or_worse)
        },
        p_no_go,
        p_marginal_or_worse,
    }
}

fn by_probability(policy: &Policy, p_no_go: Option<f64>, p_marginal_or_worse: Option<f64>) -> Call {
    let (Some(p_no_go), Some(p_worse)) = (p_no_go, p_marginal_or_worse) else {
        return Call::NoCall;
    };
    if reaches(p_no_go, policy.no_go_from) {
        Call::NoGo
    } else if reaches(p_worse, policy.marginal_from) {
        Call::Marginal
    } else {
        Call::Go
    }
}

/// Whether a source speaks for the worse: a known probability beats none, then the call, then the probabilities.
fn is_worse(one: Alone, than: Alone) -> bool {
    match (one.p_no_go, than.p_no_go) {
        (Some(_), None) => than.call != Call::NoGo,
        (None, _) => one.call == Call::NoGo && than.call != Call::NoGo,
        (Some(one_no_go), Some(than_no_go)) => {
            let by = |alone: Alone, no_go: f64| (alone.call, no_go, alone.p_marginal_or_worse);
            by(one, one_no_go) > by(than, than_no_go)
        }
    }
}

/// At or above a threshold, a rounding error of the sum of shares forgiven.
fn reaches(probability: f64, threshold: f64) -> bool {
    probability >= threshold - 1e-9
}

/// The plain call of a run of one member.
fn one_call(tally: &Tally) -> Option<Call> {
    tally.members.first().map(|member| member.plain.call)
}
