//! The way out of a marginal or no-go call: what would make it better, found by asking the same rules.

use crate::call::Call;
use crate::outing::{Forecasts, Outing, Sun};
use crate::verdict::call_of;
use chrono::{DateTime, TimeDelta, Utc};
use club::{Boat, Venue};
use serde::Serialize;

/// What is changed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum WayOutKind {
    /// Back alongside earlier.
    Shorter,
    /// Leave and return later.
    Later,
    /// Leave and return earlier.
    Earlier,
    /// Another boat of the club.
    AnotherBoat {
        /// Index into the boats that were offered.
        boat: usize,
    },
    /// Another venue of the club.
    AnotherVenue {
        /// Its index among the club's venues.
        venue: usize,
    },
}

/// A way out.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WayOut {
    /// What is changed.
    pub kind: WayOutKind,
    /// Leaving.
    pub leaves: DateTime<Utc>,
    /// Alongside.
    pub alongside: DateTime<Utc>,
    /// The call it would have.
    pub call: Call,
}

/// No outing shorter than this is worth going for (common practice, no source).
const SHORTEST: TimeDelta = TimeDelta::hours(2);
/// Ends and shifts are tried in this step.
const STEP: TimeDelta = TimeDelta::minutes(30);
/// Shifts are tried up to this.
const FURTHEST_SHIFT: TimeDelta = TimeDelta::hours(3);

/// What may be changed.
#[derive(Clone, Copy)]
pub struct Offered<'a> {
    /// The club's boats.
    pub boats: &'a [Boat],
    /// Other venues, each with what is forecast there.
    pub venues: &'a [OtherVenue<'a>],
}

/// Another venue and its forecast over the same hours.
#[derive(Clone, Copy)]
pub struct OtherVenue<'a> {
    /// Its index among the club's venues.
    pub index: usize,
    /// The venue.
    pub venue: &'a Venue,
    /// The sun there.
    pub sun: Sun,
    /// What is forecast there.
    pub forecasts: Forecasts<'a>,
}

/// The first that gives a better call, tried in this order: back earlier (the longest that helps), another boat, another
/// venue, earlier or later by the least shift inside daylight. A go is looked for first, then, for a no-go, a marginal.
pub fn find_way_out(
    outing: &Outing<'_>,
    call: Call,
    offered: Offered<'_>,
    forecasts: &Forecasts<'_>,
    now: DateTime<Utc>,
) -> Option<WayOut> {
    if !matches!(call, Call::Marginal | Call::NoGo) {
        return None;
    }
    let mut tried: Vec<(WayOutKind, Call, Outing<'_>)> = Vec::new();
    for (kind, changed) in changes(outing, offered) {
        if changed.leaves <= now {
            continue;
        }
        let elsewhere = offered.venues.iter().find(|other| {
            let kind_of_it = WayOutKind::AnotherVenue { venue: other.index };
            kind == kind_of_it
        });
        let forecasts = elsewhere.map_or(forecasts, |other| &other.forecasts);
        let better = call_of(&changed, forecasts).call;
        if better == Call::Go {
            return Some(way_out(kind, better, &changed));
        }
        tried.push((kind, better, changed));
    }
    tried
        .into_iter()
        .find(|(_, better, _)| *better == Call::Marginal && call == Call::NoGo)
        .map(|(kind, better, changed)| way_out(kind, better, &changed))
}

fn way_out(kind: WayOutKind, call: Call, changed: &Outing<'_>) -> WayOut {
    WayOut {
        kind,
        leaves: changed.leaves,
        alongside: changed.alongside,
        call,
    }
}

fn changes<'a>(outing: &Outing<'a>, offered: Offered<'a>) -> Vec<(WayOutKind, Outing<'a>)> {
    let mut changes = Vec::new();
    let mut alongside = outing.alongside - STEP;
    while alongside - outing.leaves >= SHORTEST {
        changes.push((WayOutKind::Shorter, Outing { alongside, ..*outing }));
        alongside -= STEP;
    }
    for (boat, other) in offered
        .boats
        .iter()
        .enumerate()
        .filter(|(_, other)| other.id != outing.boat.id)
    {
        changes.push((
            WayOutKind::AnotherBoat { boat },
            Outing {
                boat: other,
                ..*outing
            },
        ));
    }
    for other in offered.venues {
        let there = Outing {
            venue: other.venue,
            sun: other.sun,
            // The legs are of this venue's water.
            legs: &[],
            ..*outing
        };
        changes.push((WayOutKind::AnotherVenue { venue: other.index }, there));
    }
    let mut shift = STEP * 2;
    while shift <= FURTHEST_SHIFT {
        for (kind, by) in [(WayOutKind::Earlier, -shift), (WayOutKind::Later, shift)] {
            let moved = Outing {
                leaves: outing.leaves + by,
                alongside: outing.alongside + by,
                ..*outing
            };
            if in_daylight(&moved) {
                changes.push((kind, moved));
            }
        }
        shift += STEP * 2;
    }
    changes
}

fn in_daylight(outing: &Outing<'_>) -> bool {
    outing.sun.rises.is_none_or(|rises| outing.leaves >= rises)
        && outing.sun.sets.is_none_or(|sets| outing.alongside <= sets)
}
