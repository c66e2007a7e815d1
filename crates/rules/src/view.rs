//! The hours as shown: the median member, the spread with its floor, the row to carry, the call of the hour alone.

use crate::assess::Judge;
use crate::call::{Call, CallCounts};
use crate::criteria::Stage;
use crate::numbers::HourNumbers;
use crate::outing::{MemberView, OVERRUN, Outing, instants_between};
use crate::plan::{Wanted, wanted};
use crate::spread::{lacking, lifts};
use chrono::{DateTime, TimeDelta, Utc};
use conditions::{HourConditions, Stream};
use seaway::{Celsius, DirectionFrom, Knots, Metres, MetresPerSecond, Seconds, Wind};
use serde::Serialize;
use std::rc::Rc;

/// To tell a whole hour.
const SECONDS_PER_HOUR: i64 = 3600;

/// The winds that plan and chart are made from.
pub struct Winds<'a> {
    /// The source that carries the call.
    pub governing: &'a MemberView<'a>,
    /// The deterministic run beside it.
    pub deterministic: Option<&'a MemberView<'a>>,
}

/// One hour as shown.
#[derive(Clone, Debug, Serialize)]
pub struct VerdictHour {
    /// The instant.
    pub at: DateTime<Utc>,
    /// The boat is out.
    pub out: bool,
    /// Median mean wind, with the mean vector's direction.
    pub wind: Option<Wind>,
    /// Median gust.
    pub gust: Option<Knots>,
    /// The gust was estimated from the mean.
    pub gust_estimated: bool,
    /// Tenth and ninetieth percentile of the mean, floors included.
    pub mean_spread: Option<(Knots, Knots)>,
    /// The same for the gust.
    pub gust_spread: Option<(Knots, Knots)>,
    /// The spread is the floor's alone.
    pub spread_from_floor: bool,
    /// Significant wave height.
    pub wave_height: Option<Metres>,
    /// Period of the primary waves.
    pub wave_period: Option<Seconds>,
    /// Where they come from.
    pub wave_from: Option<DirectionFrom>,
    /// Height over length of the sea, a ratio.
    pub steepness: Option<f64>,
    /// The tidal stream, where the club gave a table and it is known.
    pub stream: Option<Stream>,
    /// The part of it that runs against the wind.
    pub opposing_stream: Option<Knots>,
    /// The stream makes the sea break.
    pub breaking: bool,
    /// Visibility.
    pub visibility: Option<Metres>,
    /// Rain, mm/h.
    pub rain_mm_per_h: Option<f64>,
    /// Convective available potential energy, J/kg.
    pub cape_j_per_kg: Option<f64>,
    /// Air at 2 m.
    pub air: Option<Celsius>,
    /// Dew point at 2 m.
    pub dew_point: Option<Celsius>,
    /// The sea's surface.
    pub water: Option<Celsius>,
    /// What to carry.
    pub wanted: Wanted,
    /// The call of the hour alone.
    pub call: Call,
}

impl Winds<'_> {
    /// What an instant asks for: the more reefed of the median member and the deterministic run (common practice: reef early).
    pub fn wanted(&self, outing: &Outing<'_>, at: DateTime<Utc>) -> Wanted {
        let median = median_wind(&self.members(at));
        let one = self.deterministic.and_then(|view| {
            let hour = (view.at)(*view.members.first()?, at);
            Some((
                hour.wind.as_ref().ok()?.value.speed,
                hour.gust.as_ref().ok()?.value,
            ))
        });
        let winds: Vec<_> = median.into_iter().chain(one).collect();
        wanted(outing, &winds)
    }

    fn members(&self, at: DateTime<Utc>) -> Vec<Rc<HourConditions>> {
        self.governing
            .members
            .iter()
            .map(|&member| (self.governing.at)(member, at))
            .collect()
    }
}

fn median_wind(members: &[Rc<HourConditions>]) -> Option<(Knots, Knots)> {
    let means = sorted(
        members
            .iter()
            .filter_map(|h| h.wind.as_ref().ok())
            .map(|wind| wind.value.speed.0),
    );
    let gusts = sorted(
        members
            .iter()
            .filter_map(|h| h.gust.as_ref().ok())
            .map(|gust| gust.value.0),
    );
    Some((Knots(quantile(&means, 0.5)?), Knots(quantile(&gusts, 0.5)?)))
}

fn sorted(values: impl Iterator<Item = f64>) -> Vec<f64> {
    let mut values: Vec<f64> = values.collect();
    values.sort_by(f64::total_cmp);
    values
}

/// The value below which a share of the sorted values lies, linear between neighbours; none of none.
pub fn quantile(sorted: &[f64], share: f64) -> Option<f64> {
    let last = sorted.len().checked_sub(1)?;
    let position = share * last as f64;
    let (low, high) = (
        sorted[position.floor() as usize],
        sorted[position.ceil() as usize],
    );
    Some(low + (high - low) * position.fract())
}

/// Every whole hour from one before leaving to two after being alongside, leaving and being alongside themselves among them.
pub fn hours(judge: &Judge<'_>, winds: &Winds<'_>) -> Vec<VerdictHour> {
    let outing = &judge.outing;
    let (from, to) = (
        outing.leaves - TimeDelta::hours(1),
        outing.alongside + OVERRUN + TimeDelta::hours(1),
    );
    let shown = |at: &DateTime<Utc>| {
        let ends_between = (*at == from || *at == to) && at.timestamp() % SECONDS_PER_HOUR != 0;
        !ends_between
    };
    let mut instants: Vec<DateTime<Utc>> = instants_between(from, to).into_iter().filter(shown).collect();
    instants.extend([outing.leaves, outing.alongside]);
    instants.sort_unstable();
    instants.dedup();
    instants
        .into_iter()
        .map(|at| hour(judge, winds, at, Stage::UNDER_WAY))
        .collect()
}

/// The instants of passing the entrance, leaving and returning, looked at like any hour; none where the venue has no entrance.
pub fn passages(judge: &Judge<'_>, winds: &Winds<'_>) -> Option<(VerdictHour, VerdictHour)> {
    let (leaving, returning) = judge.outing.passages()?;
    let passing = |at| hour(judge, winds, at, Stage::IN_THE_ENTRANCE);
    Some((passing(leaving), passing(returning)))
}

fn hour(judge: &Judge<'_>, winds: &Winds<'_>, at: DateTime<Utc>, stage: Stage) -> VerdictHour {
    let outing = &judge.outing;
    let members = winds.members(at);
    let lack = lacking(&outing.policy.spread_floor, winds.governing, at);
    let (mut means, mut gusts) = (Vec::new(), Vec::new());
    let mut counts = CallCounts::default();
    for conditions in &members {
        let numbers = HourNumbers::from(&**conditions);
        for lift in lifts(lack) {
            let lifted = numbers.lifted(lift.0);
            means.extend(lifted.mean.known());
            gusts.extend(lifted.gust.known());
            counts.take(judge.call_at(at, &numbers, stage, lift.0), lift);
        }
    }
    let (means, gusts) = (sorted(means.into_iter()), sorted(gusts.into_iter()));
    let spread = |values: &[f64]| {
        (values.len() > 1)
            .then(|| Some((Knots(quantile(values, 0.1)?), Knots(quantile(values, 0.9)?))))
            .flatten()
    };
    let first = members.first();
    let median = median_wind(&members);
    VerdictHour {
        at,
        out: (outing.leaves..=outing.alongside).contains(&at),
        wind: median.map(|(mean, _)| Wind {
            speed: mean,
            from: mean_direction(&members),
        }),
        gust: median.map(|(_, gust)| gust),
        gust_estimated: members
            .iter()
            .any(|h| h.gust.as_ref().is_ok_and(|g| g.notes.estimated_gust.is_some())),
        mean_spread: spread(&means),
        gust_spread: spread(&gusts),
        spread_from_floor: members.len() == 1,
        wave_height: first.and_then(|h| h.wave_height.as_ref().ok()).map(|r| r.value),
        wave_period: first.and_then(|h| h.wave_period.as_ref().ok()).map(|r| r.value),
        wave_from: first.and_then(|h| h.wave_from.as_ref().ok()).map(|r| r.value),
        steepness: first.and_then(|h| h.steepness.as_ref().ok()).map(|r| r.value),
        stream: first
            .and_then(|h| h.stream.as_ref()?.as_ref().ok())
            .map(|r| r.value),
        opposing_stream: first
            .and_then(|h| h.wind.as_ref().ok())
            .and_then(|r| r.notes.opposing_stream),
        breaking: first
            .and_then(|h| h.wave_height.as_ref().ok())
            .is_some_and(|r| r.notes.breaking),
        visibility: first.and_then(|h| h.visibility.as_ref().ok()).map(|r| r.value),
        rain_mm_per_h: first.and_then(|h| h.rain_mm_per_h.as_ref().ok()).map(|r| r.value),
        cape_j_per_kg: first.and_then(|h| h.cape_j_per_kg.as_ref().ok()).map(|r| r.value),
        air: first.and_then(|h| h.air.as_ref().ok()).map(|r| r.value),
        dew_point: first.and_then(|h| h.dew_point.as_ref().ok()).map(|r| r.value),
        water: first.and_then(|h| h.water.as_ref().ok()).map(|r| r.value),
        wanted: winds.wanted(outing, at),
        call: counts.call(outing.policy),
    }
}

/// Where the mean of the members' wind vectors comes from.
fn mean_direction(members: &[Rc<HourConditions>]) -> DirectionFrom {
    let (mut u, mut v) = (0.0, 0.0);
    for wind in members.iter().filter_map(|hour| hour.wind.as_ref().ok()) {
        let (east, north) = wind.value.components();
        u += east.0;
        v += north.0;
    }
    Wind::from_components(MetresPerSecond(u), MetresPerSecond(v)).from
}
