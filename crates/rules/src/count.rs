//! Counting members: each through the same rules, plainly and with the floors of spread.

use crate::assess::{Assessment, assess};
use crate::call::Call;
use crate::outing::OVERRUN;
use crate::outing::{MemberView, Outing, instants_between};
use crate::spread::{lacking, lifts, timing};
use chrono::{DateTime, TimeDelta, Utc};
use forecast::Member;
use seaway::Knots;
use std::borrow::Cow;
use std::collections::BTreeMap;

/// One member, assessed plainly, with the share of its early, late, lifted and lowered looks that are worse.
#[derive(Clone, Debug)]
pub struct MemberTally {
    /// Which member.
    pub member: Member,
    /// Its plain assessment.
    pub plain: Assessment,
    /// Share of its looks that are no-go.
    pub share_no_go: f64,
    /// Share of its looks that are marginal or worse.
    pub share_marginal_or_worse: f64,
}

impl MemberTally {
    /// Whether the member can be called at all: a value it needs may be missing.
    pub fn callable(&self) -> bool {
        self.plain.call != Call::NoCall
    }
}

/// All members of a source over one outing.
#[derive(Clone, Debug)]
pub struct Tally {
    /// Every member, callable or not.
    pub members: Vec<MemberTally>,
}

impl Tally {
    /// The members that can be called.
    pub fn callable(&self) -> impl Iterator<Item = &MemberTally> {
        self.members.iter().filter(|tally| tally.callable())
    }

    /// How many of the callable members have this plain call.
    pub fn counted(&self, call: Call) -> usize {
        self.callable().filter(|tally| tally.plain.call == call).count()
    }

    /// Whether enough of the members are there for probabilities.
    pub fn enough(&self, needed: f64) -> bool {
        let there = self.callable().count();
        there > 0 && there as f64 >= needed * self.members.len() as f64
    }

    /// Mean over the callable members of a share; none if there are none.
    pub fn mean_share(&self, share: impl Fn(&MemberTally) -> f64) -> Option<f64> {
        let there = self.callable().count();
        (there > 0).then(|| self.callable().map(share).sum::<f64>() / there as f64)
    }

    /// Least probability of no-go that the whole run supports: what is not known is not counted as broken.
    pub fn least_no_go(&self) -> f64 {
        self.members.iter().map(|tally| tally.share_no_go).sum::<f64>() / self.members.len().max(1) as f64
    }
}

/// Takes every member of a source through the rules.
pub fn tally(outing: &Outing<'_>, view: &MemberView<'_>) -> Tally {
    let points = &outing.policy.spread_floor;
    let widths: BTreeMap<DateTime<Utc>, f64> = instants_between(outing.leaves, outing.alongside + OVERRUN)
        .into_iter()
        .chain([outing.alongside])
        .map(|at| (at, lacking(points, view, at)))
        .collect();
    let early_or_late = timing(points, view, outing.leaves);
    let members = view
        .members
        .iter()
        .map(|&member| tally_member(outing, view, member, &widths, early_or_late))
        .collect();
    Tally { members }
}

fn tally_member(
    outing: &Outing<'_>,
    view: &MemberView<'_>,
    member: Member,
    widths: &BTreeMap<DateTime<Utc>, f64>,
    early_or_late: TimeDelta,
) -> MemberTally {
    let plain = assess(outing, &|at| (Cow::Owned((view.at)(member, at)), Knots(0.0)));
    let widest = widths.values().copied().fold(0.0, f64::max);
    let shifts: &[TimeDelta] = if early_or_late.is_zero() {
        &[TimeDelta::zero()]
    } else {
        &[-early_or_late, TimeDelta::zero(), early_or_late]
    };
    let (mut looks, mut no_go, mut worse) = (0.0, 0.0, 0.0);
    for &shift in shifts {
        // Conditions are asked once for all lifts of a shift.
        let moved: BTreeMap<_, _> = widths
            .keys()
            .map(|&at| {
                let mut hour = (view.at)(member, at + shift);
                // A look past either end of the run knows nothing new: the hour itself stands.
                if hour.wind.is_err() {
                    hour = (view.at)(member, at);
                }
                hour.time = at;
                (at, hour)
            })
            .collect();
        for step in lifts(widest) {
            let part = if widest > 0.0 { step.0 / widest } else { 0.0 };
            let look = |at: DateTime<Utc>| {
                let lift = Knots(part * widths.get(&at).copied().unwrap_or(0.0));
                let hour = moved
                    .get(&at)
                    .map_or_else(|| Cow::Owned((view.at)(member, at)), Cow::Borrowed);
                (hour, lift)
            };
            let call = assess(outing, &look).call;
            looks += 1.0;
            no_go += f64::from(u8::from(call == Call::NoGo));
            worse += f64::from(u8::from(call != Call::Go));
        }
    }
    MemberTally {
        member,
        plain,
        share_no_go: no_go / looks,
        share_marginal_or_worse: worse / looks,
    }
}
