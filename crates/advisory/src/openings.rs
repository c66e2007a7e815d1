//! Openings: the windows of the coming days for a boat, a level and a venue, found by the rules without issuing anything.

use crate::document::{CallWord, Sail};
use crate::make::sun_on;
use crate::plan_words::{rounded, sail_of};
use crate::validity::at_wall_time;
use crate::voices::Voice;
use crate::words::local;
use chrono::{DateTime, DurationRound, FixedOffset, NaiveDate, NaiveTime, TimeDelta, Utc};
use club::{Boat, Club, Level, Venue};
use conditions::{MemberSet, VenueConditions};
use forecast::{Member, RunSlice};
use rules::plan::make_plan;
use rules::view::Winds;
use rules::{Call, Outing, WindowQuery, find_windows};
use serde::{Deserialize, Serialize};

/// One opening.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Opening {
    /// From.
    pub from: DateTime<FixedOffset>,
    /// To.
    pub to: DateTime<FixedOffset>,
    /// The worst call of its hours.
    pub call: CallWord,
    /// Share of members that hold throughout; none where one run alone was at hand.
    pub holds: Option<f64>,
    /// What to leave with; none where the wind is past the table at first.
    pub leave_with: Option<Sail>,
    /// Source of the wind.
    pub source: String,
    /// Its run.
    pub run: Option<DateTime<Utc>>,
}

/// A day that was looked at.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DayLookedAt {
    /// The day, at the club.
    pub date: NaiveDate,
    /// Source of the wind and its run; none where no run says anything of the day's hours: then nothing can be said.
    pub by: Option<(String, DateTime<Utc>)>,
}

/// What was found, and where it was looked for.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Found {
    /// In order of time.
    pub openings: Vec<Opening>,
    /// The days with hours of light, in order; a day whose hours are over is not among them.
    pub days: Vec<DayLookedAt>,
}

/// What openings are wanted.
#[derive(Clone, Copy, Debug)]
pub struct OpeningQuery<'a> {
    /// Where.
    pub venue: &'a Venue,
    /// With which boat.
    pub boat: &'a Boat,
    /// For which level.
    pub level: &'a Level,
    /// Marginal hours are good enough too.
    pub marginal_too: bool,
    /// Shortest stretch.
    pub at_least: TimeDelta,
    /// Days looked at, from today.
    pub days: u16,
}

/// The openings of the coming days, in order of time.
pub fn openings(
    query: OpeningQuery<'_>,
    club: &Club,
    slices: &[RunSlice],
    now: DateTime<Utc>,
) -> Vec<Opening> {
    look_for_openings(query, club, slices, now).openings
}

/// The openings of the coming days with the days that were looked at.
pub fn look_for_openings(
    query: OpeningQuery<'_>,
    club: &Club,
    slices: &[RunSlice],
    now: DateTime<Utc>,
) -> Found {
    let mut found = Found::default();
    for day in daylight_outings(query, club, now) {
        let (looked_at, openings) = openings_of_day(query, club, slices, now, &day);
        found.days.push(looked_at);
        found.openings.extend(openings);
    }
    found
}

/// The surest of some openings, so many at most: those that most members hold throughout, the earlier first among equals.
/// One run alone says nothing of that and comes last.
pub fn best(mut openings: Vec<Opening>, at_most: usize) -> Vec<Opening> {
    let unsure = |opening: &Opening| 1.0 - opening.holds.unwrap_or(0.0);
    openings.sort_by(|a, b| unsure(a).total_cmp(&unsure(b)).then(a.from.cmp(&b.from)));
    openings.truncate(at_most);
    openings
}

/// The openings of one day. Each day asks for its runs anew: the newest that reaches its end may be another than for the day before.
fn openings_of_day(
    query: OpeningQuery<'_>,
    club: &Club,
    slices: &[RunSlice],
    now: DateTime<Utc>,
    day: &Outing<'_>,
) -> (DayLookedAt, Vec<Opening>) {
    let span = (day.leaves, day.alongside);
    let conditions = VenueConditions::assemble(query.venue, &club.policy, slices, now, span);
    let set = conditions.governing();
    let looked_at = DayLookedAt {
        date: day.leaves.with_timezone(&club.time_zone).date_naive(),
        by: wind_by(set, day),
    };
    let voice = Voice::of(set);
    let view = voice.view();
    let wanted = if query.marginal_too {
        Call::Marginal
    } else {
        Call::Go
    };
    let opening = |window: rules::Window| {
        let stretch = Outing {
            leaves: window.from,
            alongside: window.to,
            ..*day
        };
        let winds = Winds {
            governing: &view,
            deterministic: None,
        };
        let asked: Vec<_> = stretch
            .instants()
            .into_iter()
            .map(|at| (at, winds.wanted(&stretch, at)))
            .collect();
        let plan = make_plan(&stretch, &asked);
        Opening {
            from: local(window.from, club.time_zone),
            to: local(window.to, club.time_zone),
            call: window.call.into(),
            holds: window.holds.map(|share| rounded(share, 4)),
            leave_with: plan.and_then(|plan| sail_of(query.boat, plan.leave_with)),
            source: set.source.to_string(),
            run: set.reference,
        }
    };
    let wanted = WindowQuery {
        wanted,
        at_least: query.at_least,
    };
    let openings = find_windows(day, &view, wanted).into_iter().map(opening);
    (looked_at, openings.collect())
}

/// Whose wind is known, of any member in any of the day's hours.
fn wind_by(set: &MemberSet, day: &Outing<'_>) -> Option<(String, DateTime<Utc>)> {
    let instants = day.instants();
    let known = |member: &Member| instants.iter().any(|at| set.at(*member, *at).wind.is_ok());
    let by = (set.source.to_string(), set.reference?);
    set.members.iter().any(known).then_some(by)
}

/// One outing a day, over the whole hours of its light and of the club's that are still to come.
fn daylight_outings<'a>(query: OpeningQuery<'a>, club: &'a Club, now: DateTime<Utc>) -> Vec<Outing<'a>> {
    let hour = TimeDelta::hours(1);
    let today = now.with_timezone(&club.time_zone).date_naive();
    (0..=i64::from(query.days))
        .filter_map(|day| {
            let date = today + TimeDelta::days(day);
            let noon = at_wall_time(club.time_zone, date, NaiveTime::from_hms_opt(12, 0, 0)?);
            let sun = sun_on(query.venue, noon, club.time_zone);
            let (mut rises, mut sets) = (sun.rises?.max(now), sun.sets?);
            if let Some((from, to)) = club.sails {
                rises = rises.max(at_wall_time(club.time_zone, date, from));
                sets = sets.min(at_wall_time(club.time_zone, date, to));
            }
            let first = (rises + hour - TimeDelta::seconds(1)).duration_trunc(hour).ok()?;
            let last = sets.duration_trunc(hour).ok()?;
            (last > first).then_some(Outing {
                policy: &club.policy,
                venue: query.venue,
                boat: query.boat,
                level: query.level,
                legs: &[],
                leaves: first,
                alongside: last,
                sun,
            })
        })
        .collect()
}
