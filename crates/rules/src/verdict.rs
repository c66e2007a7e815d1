//! From members to one call for the session, with its reasons, its plan and its hours.

use crate::assess::Judge;
use crate::call::Call;
use crate::count::{Tally, tally};
use crate::outing::{MemberView, Outing};
use crate::plan::{SailPlan, make_plan};
use crate::reasons::{reasons_for, unknown_spans};
use crate::sure::{Firmness, Grounds, firmness};
use crate::view::{self, Winds};
use chrono::{DateTime, Utc};
use forecast::{Member, SourceId};
use serde::Serialize;

pub use crate::reasons::{Reason, UnknownSpan};
pub use crate::view::VerdictHour;

/// Members counted.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Counted {
    /// The ensemble, if one was counted.
    pub source: Option<SourceId>,
    /// Members its run should have.
    pub expected: u16,
    /// Callable members that are go.
    pub go: u16,
    /// Callable members that are marginal.
    pub marginal: u16,
    /// Callable members that are no-go.
    pub no_go: u16,
    /// Members set aside because a value they need is missing.
    pub set_aside: Vec<Member>,
    /// Enough members are there for probabilities.
    pub enough: bool,
    /// Members that are no-go only because three cautions came together.
    pub accumulated: u16,
}

impl Counted {
    /// Members that could be called.
    pub fn members(&self) -> u16 {
        self.go + self.marginal + self.no_go
    }

    /// Share of the counted members that are no-go, floors set aside.
    pub fn share_no_go(&self) -> Option<f64> {
        (self.members() > 0).then(|| f64::from(self.no_go) / f64::from(self.members()))
    }

    /// Share of the counted members that are marginal or worse, floors set aside.
    pub fn share_marginal_or_worse(&self) -> Option<f64> {
        (self.members() > 0).then(|| f64::from(self.marginal + self.no_go) / f64::from(self.members()))
    }
}

/// One session called.
#[derive(Clone, Debug, Serialize)]
pub struct Verdict {
    /// The call.
    pub call: Call,
    /// A go with too little wind to sail much.
    pub light: bool,
    /// How much it can be leaned on.
    pub firmness: Firmness,
    /// Members counted.
    pub counted: Counted,
    /// Probability of no-go, floors included; none where nothing could be called.
    pub p_no_go: Option<f64>,
    /// Probability of marginal or worse, floors included.
    pub p_marginal_or_worse: Option<f64>,
    /// The call of the finest deterministic run alone.
    pub deterministic: Option<Call>,
    /// The deterministic run past a stop made a go marginal.
    pub raised_by_deterministic: bool,
    /// Why, worst first.
    pub reasons: Vec<Reason>,
    /// What is not known.
    pub unknown: Vec<UnknownSpan>,
    /// Hour by hour.
    pub hours: Vec<VerdictHour>,
    /// Passing the entrance, leaving and returning; none where the venue has none.
    pub passages: Option<(VerdictHour, VerdictHour)>,
    /// The sail plan.
    pub plan: Option<SailPlan>,
}

/// Calls a session from the governing source (the ensemble where there is one) and the deterministic run beside it.
pub fn decide(
    outing: &Outing<'_>,
    governing: &MemberView<'_>,
    deterministic: Option<&MemberView<'_>>,
    now: DateTime<Utc>,
) -> Verdict {
    let main = tally(outing, governing);
    let beside = beside(outing, governing, deterministic);
    let bare = bare_call(outing, &main, beside.as_ref());
    let BareCall {
        call,
        p_no_go,
        p_marginal_or_worse,
        deterministic: deterministic_call,
        raised,
        by_one_run,
    } = bare;
    let (carrier_view, carrier) = match beside.as_ref().filter(|_| by_one_run) {
        Some((view, beside)) => (*view, beside),
        None => (governing, &main),
    };
    let winds = Winds {
        governing: carrier_view,
        deterministic,
    };
    let asked: Vec<_> = outing
        .instants()
        .into_iter()
        .map(|at| (at, winds.wanted(outing, at)))
        .collect();
    let judge = Judge::new(outing);
    let reasons = reasons_for(outing, call, carrier, beside.as_ref().map(|(view, t)| (*view, t)));
    let counted = counted(governing, &main, main.enough(outing.policy.members_needed));
    Verdict {
        call,
        light: call == Call::Go && is_light(carrier),
        firmness: firmness(Grounds {
            call,
            hours_ahead: (outing.leaves - now).num_seconds() as f64 / 3600.0,
            p_no_go,
            p_marginal_or_worse,
            has_ensemble: carrier.members.len() > 1,
            long_gust: reasons
                .iter()
                .any(|reason| reason.finding.notes.long_gust_interval),
            warnings_checked: false,
        }),
        counted,
        p_no_go,
        p_marginal_or_worse,
        deterministic: deterministic_call,
        raised_by_deterministic: raised,
        unknown: unknown_spans(&main),
        hours: view::hours(&judge, &winds),
        passages: view::passages(&judge, &winds),
        plan: make_plan(outing, &asked),
        reasons,
    }
}

/// The call of an outing alone, for comparing outings.
pub fn call_of(
    outing: &Outing<'_>,
    governing: &MemberView<'_>,
    deterministic: Option<&MemberView<'_>>,
) -> Call {
    bare_call(
        outing,
        &tally(outing, governing),
        beside(outing, governing, deterministic).as_ref(),
    )
    .call
}

/// The deterministic run beside the governing source, counted; none where it is the governing source itself.
fn beside<'a>(
    outing: &Outing<'_>,
    governing: &MemberView<'_>,
    deterministic: Option<&'a MemberView<'a>>,
) -> Option<(&'a MemberView<'a>, Tally)> {
    deterministic
        .filter(|view| view.source != governing.source)
        .map(|view| (view, tally(outing, view)))
}

/// A call without its reasons.
struct BareCall {
    call: Call,
    p_no_go: Option<f64>,
    p_marginal_or_worse: Option<f64>,
    deterministic: Option<Call>,
    /// The deterministic run past a stop made a go marginal.
    raised: bool,
    /// Too few members: the deterministic run alone carries the call, its spread the floors'.
    by_one_run: bool,
}

fn bare_call(outing: &Outing<'_>, main: &Tally, beside: Option<&(&MemberView<'_>, Tally)>) -> BareCall {
    let needed = outing.policy.members_needed;
    let one_run = beside
        .map(|(_, beside)| beside)
        .filter(|beside| !main.enough(needed) && beside.enough(needed));
    let (call, p_no_go, p_marginal_or_worse) = call_by_probability(outing, one_run.unwrap_or(main), main);
    let lone = (main.members.len() == 1).then_some(main);
    let deterministic = beside.map(|(_, beside)| beside).or(lone).and_then(one_call);
    let raised = call == Call::Go && deterministic == Some(Call::NoGo);
    let call = if raised { Call::Marginal } else { call };
    BareCall {
        call,
        p_no_go,
        p_marginal_or_worse,
        deterministic,
        raised,
        by_one_run: one_run.is_some(),
    }
}

/// The call by probability: no-go, no call, marginal, go, in this order.
fn call_by_probability(
    outing: &Outing<'_>,
    carrier: &Tally,
    main: &Tally,
) -> (Call, Option<f64>, Option<f64>) {
    let policy = outing.policy;
    // Not enough may be known for a probability, but what is known may break a limit already.
    if !main.enough(policy.members_needed) && reaches(main.least_no_go(), policy.no_go_from) {
        return (Call::NoGo, None, None);
    }
    if carrier.enough(policy.members_needed) {
        let p_no_go = carrier.mean_share(|tally| tally.share_no_go);
        let p_worse = carrier.mean_share(|tally| tally.share_marginal_or_worse);
        let call = if p_no_go.is_some_and(|p| reaches(p, policy.no_go_from)) {
            Call::NoGo
        } else if p_worse.is_some_and(|p| reaches(p, policy.marginal_from)) {
            Call::Marginal
        } else {
            Call::Go
        };
        return (call, p_no_go, p_worse);
    }
    (Call::NoCall, None, None)
}

/// At or above a threshold, a rounding error of the sum of shares forgiven.
fn reaches(probability: f64, threshold: f64) -> bool {
    probability >= threshold - 1e-9
}

/// The plain call of a run of one member.
fn one_call(tally: &Tally) -> Option<Call> {
    tally.members.first().map(|member| member.plain.call)
}

fn is_light(tally: &Tally) -> bool {
    2 * tally.callable().filter(|member| member.plain.light).count() > tally.callable().count()
}

fn counted(view: &MemberView<'_>, tally: &Tally, enough: bool) -> Counted {
    let expected = u16::try_from(view.members.len()).unwrap_or(u16::MAX);
    if expected <= 1 {
        return Counted::default();
    }
    let of = |call| u16::try_from(tally.counted(call)).unwrap_or(u16::MAX);
    let accumulated = tally
        .callable()
        .filter(|member| member.plain.hours.iter().any(|hour| hour.accumulated))
        .count();
    Counted {
        source: Some(view.source.clone()),
        expected,
        go: of(Call::Go),
        marginal: of(Call::Marginal),
        no_go: of(Call::NoGo),
        set_aside: tally
            .members
            .iter()
            .filter(|member| !member.callable())
            .map(|member| member.member)
            .collect(),
        enough,
        accumulated: u16::try_from(accumulated).unwrap_or(u16::MAX),
    }
}
