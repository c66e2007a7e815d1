//! Counting members: each through the same rules, plainly and with the floors of spread.

use crate::assess::{Assessment, Judge};
use crate::call::Call;
use crate::numbers::HourNumbers;
use crate::outing::{MemberView, Outing};
use crate::spread::{lacking_of, lifts, timing};
use chrono::{DateTime, TimeDelta, Utc};
use conditions::HourConditions;
use forecast::Member;
use std::rc::Rc;

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

    /// Probability of a no-go, floors of spread included; none if no member can be called.
    pub fn no_go(&self) -> Option<f64> {
        self.probability(|tally| tally.share_no_go, Call::NoGo)
    }

    /// Probability of marginal or worse, floors of spread included; none if no member can be called.
    pub fn marginal_or_worse(&self) -> Option<f64> {
        self.probability(|tally| tally.share_marginal_or_worse, Call::Marginal)
    }

    /// Least probability of no-go that the whole run supports: what is not known is not counted as broken.
    pub fn least_no_go(&self) -> f64 {
        let known = self.members.iter().map(|tally| tally.share_no_go).sum::<f64>();
        let counted = self.counted(Call::NoGo);
        self.never_kinder(known, counted, self.members.len().max(1))
    }

    fn probability(&self, share: impl Fn(&MemberTally) -> f64, bad: Call) -> Option<f64> {
        let there = self.callable().count();
        let counted = self.callable().filter(|tally| tally.plain.call >= bad).count();
        let shares = self.callable().map(share).sum::<f64>();
        (there > 0).then(|| self.never_kinder(shares, counted, there))
    }

    /// The floors widen what an ensemble is too sure of; they never make it kinder than its members counted as they are. One
    /// run alone has no spread but theirs, so there the looks alone count.
    fn never_kinder(&self, shares: f64, counted: usize, of: usize) -> f64 {
        let counted = if self.members.len() > 1 {
            counted as f64
        } else {
            0.0
        };
        shares.max(counted) / of as f64
    }
}

/// Takes every member of a source through the rules.
pub fn tally(outing: &Outing<'_>, view: &MemberView<'_>) -> Tally {
    let judge = Judge::new(outing);
    let instants: Vec<DateTime<Utc>> = judge.instants().collect();
    let conditions: Vec<Vec<Rc<HourConditions>>> = view
        .members
        .iter()
        .map(|&member| instants.iter().map(|&at| (view.at)(member, at)).collect())
        .collect();
    let points = &outing.policy.spread_floor;
    let widths: Vec<f64> = instants
        .iter()
        .enumerate()
        .map(|(index, &at)| {
            let speeds = conditions
                .iter()
                .filter_map(|hours| hours[index].wind.as_ref().ok())
                .map(|wind| wind.value.speed.0);
            lacking_of(points, view.lead_hours(at), speeds)
        })
        .collect();
    let looks = Looks {
        judge: &judge,
        view,
        instants: &instants,
        widths: &widths,
        early_or_late: timing(points, view, outing.leaves),
    };
    let members = view.members.iter().zip(&conditions);
    Tally {
        members: members
            .map(|(&member, hours)| looks.tally(member, hours))
            .collect(),
    }
}

/// How a member is looked at: as itself, early and late, lifted and lowered.
struct Looks<'a> {
    judge: &'a Judge<'a>,
    view: &'a MemberView<'a>,
    instants: &'a [DateTime<Utc>],
    /// What the members' spread lacks of the floor at each instant, kn.
    widths: &'a [f64],
    early_or_late: TimeDelta,
}

impl Looks<'_> {
    fn tally(&self, member: Member, conditions: &[Rc<HourConditions>]) -> MemberTally {
        let hours: Vec<HourNumbers> = conditions.iter().map(|hour| HourNumbers::from(&**hour)).collect();
        let shift = self.early_or_late;
        let shifts = [TimeDelta::zero(), -shift, shift];
        let widest = self.widths.iter().copied().fold(0.0, f64::max);
        let (mut looks, mut no_go, mut worse) = (0.0, 0.0, 0.0);
        for &shift in if shift.is_zero() {
            &shifts[..1]
        } else {
            &shifts[..]
        } {
            let moved = self.moved(member, &hours, shift);
            for step in lifts(widest) {
                let part = if widest > 0.0 { step.0 / widest } else { 0.0 };
                let lifted = self.widths.iter().map(|width| part * width);
                let call = self.judge.call(moved.iter().zip(lifted));
                looks += 1.0;
                no_go += f64::from(u8::from(call == Call::NoGo));
                worse += f64::from(u8::from(call != Call::Go));
            }
        }
        MemberTally {
            member,
            plain: self.judge.assess(conditions),
            share_no_go: no_go / looks,
            share_marginal_or_worse: worse / looks,
        }
    }

    /// The member's numbers early or late. A look past either end of the run knows nothing new: the hour itself stands.
    fn moved(&self, member: Member, hours: &[HourNumbers], shift: TimeDelta) -> Vec<HourNumbers> {
        if shift.is_zero() {
            return hours.to_vec();
        }
        let at_shift = |(&at, &hour): (&DateTime<Utc>, &HourNumbers)| {
            let moved = HourNumbers::from(&*(self.view.at)(member, at + shift));
            if moved.mean.known().is_some() { moved } else { hour }
        };
        self.instants.iter().zip(hours).map(at_shift).collect()
    }
}
