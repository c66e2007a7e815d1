//! One outing: whose boat, which crew, where and when; and the instants at which it is looked at.

use crate::criteria::Stage;
use chrono::{DateTime, DurationRound, TimeDelta, Utc};
use club::{Boat, Leg, Level, Policy, Venue};
use conditions::{HourConditions, MemberSet};
use forecast::{Member, SourceId};
use std::rc::Rc;

/// The sun on the day of the outing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sun {
    /// Sunrise, if the sun rises.
    pub rises: Option<DateTime<Utc>>,
    /// Sunset, if the sun sets.
    pub sets: Option<DateTime<Utc>>,
    /// The sun stays down all day.
    pub always_down: bool,
}

/// One outing.
#[derive(Clone, Copy, Debug)]
pub struct Outing<'a> {
    /// The club's numbers.
    pub policy: &'a Policy,
    /// Where.
    pub venue: &'a Venue,
    /// With which boat.
    pub boat: &'a Boat,
    /// With which crew.
    pub level: &'a Level,
    /// The legs, if given.
    pub legs: &'a [Leg],
    /// Leaving the berth.
    pub leaves: DateTime<Utc>,
    /// Back alongside.
    pub alongside: DateTime<Utc>,
    /// The sun that day.
    pub sun: Sun,
}

/// How long after being alongside the conditions are still looked at, for a caution.
pub const OVERRUN: TimeDelta = TimeDelta::hours(1);

impl Outing<'_> {
    /// The instants that stand for every minute out: leaving, each whole hour between, being alongside.
    ///
    /// Steps lie on whole hours and everything between them is linear or held, so the worst minute is one of these.
    pub fn instants(&self) -> Vec<DateTime<Utc>> {
        instants_between(self.leaves, self.alongside)
    }

    /// Those instants and the two passages of the entrance, in order, with where the boat is.
    pub(crate) fn staged(&self) -> Vec<(DateTime<Utc>, Stage)> {
        let mut instants = self.instants();
        let passages = self.passages();
        instants.extend(
            passages
                .iter()
                .flat_map(|&(leaving, returning)| [leaving, returning]),
        );
        instants.sort_unstable();
        instants.dedup();
        let stage = |at| Stage {
            at_berth: at == self.leaves || at == self.alongside,
            at_entrance: passages.is_some_and(|(leaving, returning)| at == leaving || at == returning),
        };
        instants.into_iter().map(|at| (at, stage(at))).collect()
    }

    /// When she passes the entrance, leaving and returning; none where the venue has no entrance. A session too short to
    /// reach it passes it in its middle.
    pub fn passages(&self) -> Option<(DateTime<Utc>, DateTime<Utc>)> {
        let minutes = self.venue.entrance.as_ref()?.minutes_from_berth;
        let way = TimeDelta::seconds((minutes * 60.0).round() as i64);
        let way = way.min((self.alongside - self.leaves) / 2);
        Some((self.leaves + way, self.alongside - way))
    }

    /// The instants of the hour of overrun, after being alongside.
    pub fn overrun(&self) -> Vec<DateTime<Utc>> {
        instants_between(self.alongside, self.alongside + OVERRUN).split_off(1)
    }
}

/// Both ends and every whole hour between them.
pub fn instants_between(from: DateTime<Utc>, to: DateTime<Utc>) -> Vec<DateTime<Utc>> {
    let mut instants = vec![from];
    let hour = TimeDelta::hours(1);
    let mut next = from.duration_trunc(hour).unwrap_or(from) + hour;
    while next < to {
        instants.push(next);
        next += hour;
    }
    if to > from {
        instants.push(to);
    }
    instants
}

/// The members of one source, as the rules ask them.
#[derive(Clone, Copy)]
pub struct MemberView<'a> {
    /// The source of wind and gust.
    pub source: &'a SourceId,
    /// Reference time of its run; none where no wind run is at hand.
    pub reference: Option<DateTime<Utc>>,
    /// Its members.
    pub members: &'a [Member],
    /// What a member says at an instant.
    pub at: &'a dyn Fn(Member, DateTime<Utc>) -> Rc<HourConditions>,
}

/// What is forecast at a venue, source by source.
#[derive(Clone, Copy)]
pub struct Forecasts<'a> {
    /// The source that carries the call: the ensemble where there is one.
    pub governing: MemberView<'a>,
    /// A second ensemble, where the policy names one and it is at hand.
    pub second: Option<MemberView<'a>>,
    /// The finest single run.
    pub deterministic: Option<MemberView<'a>>,
}

impl<'a> Forecasts<'a> {
    /// One source alone.
    pub fn one(governing: MemberView<'a>) -> Self {
        Self {
            governing,
            second: None,
            deterministic: None,
        }
    }
}

impl<'a> MemberView<'a> {
    /// A view of a member set through a closure that asks it.
    pub fn of(set: &'a MemberSet, at: &'a dyn Fn(Member, DateTime<Utc>) -> Rc<HourConditions>) -> Self {
        Self {
            source: &set.source,
            reference: set.reference,
            members: &set.members,
            at,
        }
    }

    /// Hours from the run's reference to an instant; 0 where no run is at hand.
    pub fn lead_hours(&self, at: DateTime<Utc>) -> f64 {
        self.reference
            .map_or(0.0, |reference| (at - reference).num_seconds() as f64 / 3600.0)
    }
}
