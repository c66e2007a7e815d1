//! One member, one outing: from instants to a call.

use crate::call::Call;
use crate::criteria::{Criterion, Finding, Judged, Stage, Unknown, judge, judge_instant, lifted};
use crate::outing::Outing;
use chrono::{DateTime, Utc};
use club::Quantity;
use conditions::{HourConditions, Notes};
use seaway::Knots;
use serde::Serialize;
use std::borrow::Cow;

/// One instant assessed.
#[derive(Clone, Debug, Serialize)]
pub struct HourAssessment {
    /// The instant.
    pub at: DateTime<Utc>,
    /// Its call.
    pub call: Call,
    /// Three marginal criteria made it a no-go.
    pub accumulated: bool,
    /// What was judged.
    pub findings: Vec<Finding>,
    /// What could not be.
    pub unknown: Vec<Unknown>,
    /// Mean wind judged, the lift included; none if it is not known.
    pub mean: Option<Knots>,
    /// Gust judged, the lift included; none if it is not known.
    pub gust: Option<Knots>,
    /// Row of the boat's table for the instant's wind, the level's extra reefs included; none past the table or unknown.
    pub row: Option<usize>,
}

/// One member's outing assessed.
#[derive(Clone, Debug, Serialize)]
pub struct Assessment {
    /// The worst of its instants and of the daylight, the hour of overrun softened.
    pub call: Call,
    /// The instants out.
    pub hours: Vec<HourAssessment>,
    /// The hour of overrun.
    pub overrun: Vec<HourAssessment>,
    /// The daylight, if the level limits it.
    pub daylight: Option<Finding>,
    /// Most of the time there is too little wind to sail.
    pub light: bool,
}

impl Assessment {
    /// Every finding of the outing, the overrun's softened to cautions.
    pub fn findings(&self) -> impl Iterator<Item = Finding> + '_ {
        let out = self.hours.iter().flat_map(|hour| hour.findings.iter().cloned());
        let over = self
            .overrun
            .iter()
            .flat_map(|hour| hour.findings.iter().cloned())
            .map(|mut finding| {
                finding.call = finding.call.softened();
                finding
            });
        out.chain(over).chain(self.daylight.clone())
    }
}

/// How an instant is looked at: moved in time, lifted in strength. Neither for the plain member.
pub type Look<'a> = &'a dyn Fn(DateTime<Utc>) -> (Cow<'a, HourConditions>, Knots);

/// Assesses one member over an outing.
pub fn assess(outing: &Outing<'_>, look: Look<'_>) -> Assessment {
    let instants = outing.instants();
    let last = instants.len().saturating_sub(1);
    let hours: Vec<_> = instants
        .iter()
        .enumerate()
        .map(|(i, &at)| {
            let stage = if i == 0 || i == last {
                Stage::AtBerth
            } else {
                Stage::UnderWay
            };
            assess_instant(outing, at, stage, look)
        })
        .collect();
    let overrun: Vec<_> = outing
        .overrun()
        .into_iter()
        .map(|at| assess_instant(outing, at, Stage::UnderWay, look))
        .collect();
    let daylight = daylight(outing);
    let worst = hours.iter().map(|hour| hour.call).fold(Call::Go, Call::worst);
    let over = overrun
        .iter()
        .map(|hour| hour.call.softened())
        .fold(Call::Go, Call::worst);
    let dark = daylight.as_ref().map_or(Call::Go, |finding| finding.call);
    Assessment {
        call: worst.worst(over).worst(dark),
        light: is_light(outing, &hours),
        hours,
        overrun,
        daylight,
    }
}

/// Assesses one instant.
pub fn assess_instant(
    outing: &Outing<'_>,
    at: DateTime<Utc>,
    stage: Stage,
    look: Look<'_>,
) -> HourAssessment {
    let (conditions, lift) = look(at);
    let Judged { findings, unknown } = judge_instant(outing, &conditions, stage, lift);
    let judged = findings
        .iter()
        .map(|finding| finding.call)
        .fold(Call::Go, Call::worst);
    let accumulated =
        judged == Call::Marginal && outing.level.accumulate && marginal_criteria(&findings) >= 3;
    let judged = if accumulated { Call::NoGo } else { judged };
    let call = if unknown.is_empty() {
        judged
    } else {
        judged.worst(Call::NoCall)
    };
    let (wind, gust) = lifted(&conditions, lift);
    let mean = wind.ok().map(|wind| wind.value.speed);
    let gust = gust.ok().map(|gust| gust.value);
    let row = mean
        .zip(gust)
        .and_then(|(mean, gust)| carried_row(outing, mean, gust));
    HourAssessment {
        at,
        call,
        accumulated,
        findings,
        unknown,
        mean,
        gust,
        row,
    }
}

/// Row to carry for a wind: the table's, moved on by the level's extra reefs as far as the table goes.
pub fn carried_row(outing: &Outing<'_>, mean: Knots, gust: Knots) -> Option<usize> {
    let table = &outing.boat.reef_table;
    let row = table.row_for(mean, gust)?;
    Some((row + usize::from(outing.level.extra_reefs)).min(table.rows().len() - 1))
}

/// How many criteria are marginal at an instant; wind and gust, the level's or the table's, count once.
fn marginal_criteria(findings: &[Finding]) -> usize {
    let is_wind = |criterion: Criterion| {
        matches!(
            criterion,
            Criterion::Limit(Quantity::Mean | Quantity::Gust) | Criterion::TableMean | Criterion::TableGust
        )
    };
    let marginal = || findings.iter().filter(|finding| finding.call == Call::Marginal);
    let winds = usize::from(marginal().any(|finding| is_wind(finding.criterion)));
    winds + marginal().filter(|finding| !is_wind(finding.criterion)).count()
}

/// Minutes of daylight left on being alongside; on leaving before sunrise, minutes until it (negative).
fn daylight(outing: &Outing<'_>) -> Option<Finding> {
    let limit = *outing.level.limits.get(&Quantity::DaylightMargin)?;
    let minutes = |span: chrono::TimeDelta| span.num_seconds() as f64 / 60.0;
    let value = match (outing.sun.rises, outing.sun.sets) {
        (Some(rises), _) if outing.leaves < rises => minutes(outing.leaves - rises),
        (_, Some(sets)) => minutes(sets - outing.alongside),
        // No sunset that day: dark all day, or light all day.
        (_, None) if outing.sun.always_down => f64::NEG_INFINITY,
        (_, None) => return None,
    };
    let value = value.max(-24.0 * 60.0);
    let criterion = Criterion::Limit(Quantity::DaylightMargin);
    let call = judge(value, limit, true);
    Some(Finding {
        criterion,
        call,
        value,
        limit,
        at: outing.alongside,
        origin: None,
        notes: Notes::default(),
    })
}

fn is_light(outing: &Outing<'_>, hours: &[HourAssessment]) -> bool {
    let light = hours
        .iter()
        .filter(|hour| hour.mean.is_some_and(|mean| mean < outing.level.light_below))
        .count();
    2 * light > hours.len()
}
