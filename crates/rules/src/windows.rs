//! Windows: unbroken stretches of hours that are good enough for a boat and a level at a venue.

use crate::assess::Judge;
use crate::call::{Call, CallCounts};
use crate::count::tally;
use crate::criteria::Stage;
use crate::numbers::HourNumbers;
use crate::outing::{MemberView, Outing};
use crate::spread::{lacking_of, lifts};
use chrono::{DateTime, TimeDelta, Utc};
use serde::Serialize;

/// What is looked for.
#[derive(Clone, Copy, Debug)]
pub struct WindowQuery {
    /// Every hour is at least this good: go, or marginal.
    pub wanted: Call,
    /// Shortest stretch.
    pub at_least: TimeDelta,
}

/// A stretch that is good enough.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Window {
    /// From.
    pub from: DateTime<Utc>,
    /// To.
    pub to: DateTime<Utc>,
    /// The worst call of its hours.
    pub call: Call,
    /// Members that are at least as good as wanted throughout, over the members that can be called.
    pub holds: Option<f64>,
}

/// All maximal stretches of whole hours within the outing's span (one day's light, as the caller gives it) that are good enough.
///
/// `outing` gives the span searched; being alongside at its end is not assumed, so daylight and the berth are not judged hour by hour.
pub fn find_windows(outing: &Outing<'_>, view: &MemberView<'_>, query: WindowQuery) -> Vec<Window> {
    let judge = Judge::new(outing);
    let hours: Vec<(DateTime<Utc>, Call)> = outing
        .instants()
        .into_iter()
        .map(|at| (at, hour_call(&judge, view, at)))
        .collect();
    let mut windows = Vec::new();
    for stretch in hours.split(|(_, call)| *call > query.wanted) {
        let (Some(&(from, _)), Some(&(to, _))) = (stretch.first(), stretch.last()) else {
            continue;
        };
        if to - from < query.at_least || to <= from {
            continue;
        }
        let call = stretch.iter().map(|(_, call)| *call).fold(Call::Go, Call::worst);
        windows.push(Window {
            from,
            to,
            call,
            holds: holds(outing, view, from, to, query.wanted),
        });
    }
    windows
}

/// The call of one hour. She may pass the entrance in any hour of a window, so what counts in it counts throughout.
fn hour_call(judge: &Judge<'_>, view: &MemberView<'_>, at: DateTime<Utc>) -> Call {
    let hours: Vec<HourNumbers> = view
        .members
        .iter()
        .map(|&member| HourNumbers::from(&*(view.at)(member, at)))
        .collect();
    call_of_members(judge, at, &hours, view.lead_hours(at))
}

/// The call of one hour by the numbers of all members, the floor of spread at that lead (h) included.
pub fn call_of_members(judge: &Judge<'_>, at: DateTime<Utc>, hours: &[HourNumbers], lead_h: f64) -> Call {
    let policy = judge.outing.policy;
    let speeds = hours.iter().filter_map(|hour| hour.mean.known());
    let lack = lacking_of(&policy.spread_floor, lead_h, speeds);
    let mut counts = CallCounts::default();
    for hour in hours {
        for lift in lifts(lack) {
            counts.take(judge.call_at(at, hour, Stage::IN_THE_ENTRANCE, lift.0), lift);
        }
    }
    counts.call(policy)
}

/// Members that hold throughout over members that can be called.
fn holds(
    outing: &Outing<'_>,
    view: &MemberView<'_>,
    from: DateTime<Utc>,
    to: DateTime<Utc>,
    wanted: Call,
) -> Option<f64> {
    let stretch = Outing {
        leaves: from,
        alongside: to,
        ..*outing
    };
    let tally = tally(&stretch, view);
    let callable = tally.callable().count();
    let good = tally
        .callable()
        .filter(|member| member.plain.hours.iter().all(|hour| hour.call <= wanted))
        .count();
    (callable > 0 && view.members.len() > 1).then(|| good as f64 / callable as f64)
}
