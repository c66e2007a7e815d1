//! From forecasts to one call for the session, with its reasons, its plan and its hours.
//!
//! Owns: the verdict and how it is put together. Must not know: how probabilities come about, sentences.

use crate::assess::Judge;
use crate::call::Call;
use crate::combined::{Bare, Counting};
use crate::count::Tally;
use crate::outing::{Forecasts, MemberView, Outing};
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

/// What one more ensemble says by itself.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SecondSource {
    /// Its members counted.
    pub counted: Counted,
    /// Its call.
    pub call: Call,
    /// Its probability of no-go, floors included.
    pub p_no_go: Option<f64>,
    /// Its probability of marginal or worse, floors included.
    pub p_marginal_or_worse: Option<f64>,
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
    /// The second ensemble counted, where the policy names two.
    pub second: Option<SecondSource>,
    /// The reasons, the hours and the plan are the second ensemble's: it is the worse.
    pub by_second: bool,
    /// Probability of no-go, floors included, of both ensembles together where there are two; none where nothing could be
    /// called.
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
    /// Hour by hour, leaving and being alongside among them.
    pub hours: Vec<VerdictHour>,
    /// Passing the entrance, leaving and returning; none where the venue has none.
    pub passages: Option<(VerdictHour, VerdictHour)>,
    /// The sail plan.
    pub plan: Option<SailPlan>,
}

/// Calls a session from the forecasts of its venue.
pub fn decide(outing: &Outing<'_>, forecasts: &Forecasts<'_>, now: DateTime<Utc>) -> Verdict {
    let counting = Counting::of(outing, forecasts);
    let bare = counting.bare(outing);
    let (carrier_view, carrier) = counting.carrier(&bare);
    let winds = Winds {
        governing: carrier_view,
        deterministic: forecasts.deterministic.as_ref(),
    };
    let asked: Vec<_> = outing
        .instants()
        .into_iter()
        .map(|at| (at, winds.wanted(outing, at)))
        .collect();
    let judge = Judge::new(outing);
    let reasons = reasons_for(
        outing,
        bare.call,
        carrier,
        counting.beside.as_ref().map(|(_, tally)| tally),
    );
    let needed = outing.policy.members_needed;
    let counted_of = |(view, tally): &(&MemberView<'_>, Tally)| counted(view, tally, tally.enough(needed));
    Verdict {
        call: bare.call,
        light: bare.call == Call::Go && is_light(carrier),
        firmness: firmness(
            outing.policy,
            Grounds {
                call: bare.call,
                hours_ahead: (outing.leaves - now).num_seconds() as f64 / 3600.0,
                p_no_go: bare.p_no_go,
                p_marginal_or_worse: bare.p_marginal_or_worse,
                has_ensemble: carrier.members.len() > 1,
                long_gust: reasons
                    .iter()
                    .any(|reason| reason.finding.notes.long_gust_interval),
                warnings_checked: false,
                sources_differ: bare.sources_differ(),
            },
        ),
        counted: counted_of(&counting.main),
        second: counting.second.as_ref().map(|second| {
            let alone = bare.second_alone;
            SecondSource {
                counted: counted_of(second),
                call: alone.map_or(Call::NoCall, |alone| alone.call),
                p_no_go: alone.and_then(|alone| alone.p_no_go),
                p_marginal_or_worse: alone.and_then(|alone| alone.p_marginal_or_worse),
            }
        }),
        by_second: bare.by_second,
        p_no_go: bare.p_no_go,
        p_marginal_or_worse: bare.p_marginal_or_worse,
        deterministic: bare.deterministic,
        raised_by_deterministic: bare.raised,
        unknown: unknown_spans(&counting.main.1),
        hours: view::hours(&judge, &winds),
        passages: view::passages(&judge, &winds),
        plan: make_plan(outing, &asked),
        reasons,
    }
}

/// The call of an outing alone, with its probabilities, for comparing outings.
pub fn call_of(outing: &Outing<'_>, forecasts: &Forecasts<'_>) -> Bare {
    Counting::of(outing, forecasts).bare(outing)
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
