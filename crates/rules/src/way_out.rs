//! The way out of a marginal or no-go call: what would make it better, found by asking the same rules.

use crate::call::Call;
use crate::outing::{MemberView, Outing};
use crate::verdict::call_of;
use chrono::{DateTime, TimeDelta, Utc};
use club::Boat;
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

/// The first that gives a better call, tried in this order: back earlier (the longest that helps), another boat, earlier or later by the
/// least shift inside daylight. A go is looked for first, then, for a no-go, a marginal.
pub fn find_way_out(
    outing: &Outing<'_>,
    call: Call,
    boats: &[Boat],
    governing: &MemberView<'_>,
    deterministic: Option<&MemberView<'_>>,
    now: DateTime<Utc>,
) -> Option<WayOut> {
    if !matches!(call, Call::Marginal | Call::NoGo) {
        return None;
    }
    let mut tried: Vec<(WayOutKind, Call, Outing<'_>)> = Vec::new();
    for (kind, changed) in changes(outing, boats) {
        if changed.leaves <= now {
            continue;
        }
        let better = call_of(&changed, governing, deterministic);
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

fn changes<'a>(outing: &Outing<'a>, boats: &'a [Boat]) -> Vec<(WayOutKind, Outing<'a>)> {
    let mut changes = Vec::new();
    let mut alongside = outing.alongside - STEP;
    while alongside - outing.leaves >= SHORTEST {
        changes.push((WayOutKind::Shorter, Outing { alongside, ..*outing }));
        alongside -= STEP;
    }
    for (boat, other) in boats
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
