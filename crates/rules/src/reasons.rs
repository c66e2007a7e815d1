//! Why: for each criterion the value of the member that stands at the call's threshold, and what is not known.

use crate::assess::Assessment;
use crate::call::Call;
use crate::count::{MemberTally, Tally};
use crate::criteria::{Criterion, Finding, Unknown};
use crate::outing::Outing;
use chrono::{DateTime, Utc};
use club::Quantity;
use conditions::Missing;
use forecast::Member;
use serde::Serialize;
use std::cmp::Ordering;
use std::collections::BTreeMap;

/// One reason.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Reason {
    /// The value, its limits, its hour and its run.
    pub finding: Finding,
    /// The member that stands at the threshold; none when the run has only one.
    pub member: Option<Member>,
    /// Callable members past the caution or worse.
    pub past_caution: Option<u16>,
    /// Callable members past the stop.
    pub past_stop: Option<u16>,
    /// First and last instant that member is past the caution.
    pub passed: Option<(DateTime<Utc>, DateTime<Utc>)>,
    /// The value itself is inside; the floor of spread reaches past.
    pub by_floor: bool,
    /// It is the deterministic run's, told because it raised the call.
    pub deterministic: bool,
}

/// Something not known over a span.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct UnknownSpan {
    /// Which criterion.
    pub criterion: Criterion,
    /// Why.
    pub missing: Missing,
    /// First instant.
    pub from: DateTime<Utc>,
    /// Last instant.
    pub to: DateTime<Utc>,
    /// The members concerned; empty when it is all of them.
    pub members: Vec<Member>,
}

/// The reasons for a call, worst first.
pub fn reasons_for(
    outing: &Outing<'_>,
    call: Call,
    carrier: &Tally,
    deterministic: Option<&Tally>,
) -> Vec<Reason> {
    let threshold = if call == Call::NoGo {
        outing.policy.no_go_from
    } else {
        outing.policy.marginal_from
    };
    let mut all: Vec<Reason> = criteria_of(carrier)
        .into_iter()
        .filter_map(|c| at_threshold(c, carrier, threshold))
        .collect();
    if let Some(tally) = deterministic {
        let told: Vec<Criterion> = all
            .iter()
            .filter(|r| r.finding.call == Call::NoGo)
            .map(|r| r.finding.criterion)
            .collect();
        all.extend(
            stops_of_one_run(tally)
                .into_iter()
                .filter(|stop| !told.contains(&stop.finding.criterion)),
        );
    }
    // A stop in the hour of overrun is a caution with a negative margin: it comes after the stops of the hours out.
    all.sort_by(|a, b| worse_first(&a.finding, &b.finding));
    let told: Vec<Reason> = all
        .iter()
        .filter(|reason| reason.finding.call != Call::Go)
        .cloned()
        .collect();
    let mut told = if told.is_empty() && against(call) {
        all.into_iter().take(1).collect()
    } else {
        told
    };
    if floors_made_it(call, carrier, threshold)
        && let Some(first) = told.first_mut()
    {
        first.by_floor = first.finding.call < call;
    }
    told
}

fn against(call: Call) -> bool {
    matches!(call, Call::Marginal | Call::NoGo)
}

/// Whether the members as they are would not have made this call.
fn floors_made_it(call: Call, carrier: &Tally, threshold: f64) -> bool {
    let there = carrier.callable().count();
    let as_bad = carrier
        .callable()
        .filter(|member| member.plain.call >= call)
        .count();
    against(call) && (as_bad as f64) < threshold * there as f64 - 1e-9
}

fn criteria_of(tally: &Tally) -> Vec<Criterion> {
    let mut criteria: Vec<Criterion> = tally
        .members
        .iter()
        .flat_map(|m| m.plain.findings().map(|f| f.criterion).collect::<Vec<_>>())
        .collect();
    criteria.sort_unstable();
    criteria.dedup();
    criteria
}

/// The worst finding of one criterion in one member: by its call, then by its margin. In the overrun a stop is only a caution, so a
/// smaller value out on the water may be the worse finding.
fn worst_of(assessment: &Assessment, criterion: Criterion) -> Option<Finding> {
    assessment
        .findings()
        .filter(|finding| finding.criterion == criterion)
        .min_by(worse_first)
}

fn worse_first(a: &Finding, b: &Finding) -> Ordering {
    b.call
        .cmp(&a.call)
        .then(a.relative_margin().total_cmp(&b.relative_margin()))
}

/// The finding of the member that stands at the threshold: with 30 members and 10 %, the third worst.
fn at_threshold(criterion: Criterion, tally: &Tally, threshold: f64) -> Option<Reason> {
    let callable = tally.callable().count();
    // With nothing callable a broken limit is still told: then every member speaks.
    let speaks = |member: &&MemberTally| callable == 0 || member.callable();
    let mut ranked: Vec<(&MemberTally, Finding)> = tally
        .members
        .iter()
        .filter(speaks)
        .filter_map(|member| worst_of(&member.plain, criterion).map(|finding| (member, finding)))
        .collect();
    ranked.sort_by(|a, b| worse_first(&a.1, &b.1));
    let total = if callable == 0 {
        tally.members.len()
    } else {
        callable
    };
    let rank = ((threshold * total as f64 - 1e-9).ceil() as usize).max(1) - 1;
    let several = tally.members.len() > 1;
    let count = |told: bool, at_least: Call| {
        told.then(|| {
            u16::try_from(ranked.iter().filter(|(_, f)| f.call >= at_least).count()).unwrap_or(u16::MAX)
        })
    };
    let (member, finding) = ranked.get(rank)?;
    // One value for all members is no member's, and counting it says nothing.
    let several = several && !finding.notes.no_spread && finding.origin.is_some();
    Some(Reason {
        passed: passed(&member.plain, criterion),
        member: several.then_some(member.member),
        finding: finding.clone(),
        past_caution: count(several, Call::Marginal),
        past_stop: count(several, Call::NoGo),
        by_floor: false,
        deterministic: false,
    })
}

fn stops_of_one_run(tally: &Tally) -> Vec<Reason> {
    let Some(only) = tally.members.first() else {
        return Vec::new();
    };
    criteria_of(tally)
        .into_iter()
        .filter_map(|criterion| worst_of(&only.plain, criterion))
        .filter(|finding| finding.call == Call::NoGo)
        .map(|finding| Reason {
            passed: passed(&only.plain, finding.criterion),
            finding,
            member: None,
            past_caution: None,
            past_stop: None,
            by_floor: false,
            deterministic: true,
        })
        .collect()
}

fn passed(assessment: &Assessment, criterion: Criterion) -> Option<(DateTime<Utc>, DateTime<Utc>)> {
    let past = |finding: &Finding| finding.criterion == criterion && finding.call != Call::Go;
    let times: Vec<_> = assessment
        .findings()
        .filter(past)
        .map(|finding| finding.at)
        .collect();
    Some((*times.iter().min()?, *times.iter().max()?))
}

/// What is not known out on the water, joined over instants and members. The table's unknowns repeat the wind's and are left out
/// where the level limits the wind.
pub fn unknown_spans(tally: &Tally) -> Vec<UnknownSpan> {
    type Key = (Criterion, forecast::Gap, Option<String>);
    let mut spans: BTreeMap<Key, UnknownSpan> = BTreeMap::new();
    for member in &tally.members {
        for unknown in member.plain.hours.iter().flat_map(|hour| &hour.unknown) {
            let criterion = as_limit(unknown);
            let key = (
                criterion,
                unknown.missing.gap,
                unknown.missing.source.as_ref().map(ToString::to_string),
            );
            let span = spans.entry(key).or_insert_with(|| UnknownSpan {
                criterion,
                missing: unknown.missing.clone(),
                from: unknown.at,
                to: unknown.at,
                members: Vec::new(),
            });
            span.from = span.from.min(unknown.at);
            span.to = span.to.max(unknown.at);
            if span.members.last() != Some(&member.member) {
                span.members.push(member.member);
            }
        }
    }
    let mut spans: Vec<UnknownSpan> = spans.into_values().collect();
    for span in &mut spans {
        if span.members.len() == tally.members.len() {
            span.members.clear();
        }
    }
    spans
}

/// A table that cannot be read for want of a mean or a gust is told as that mean or gust.
fn as_limit(unknown: &Unknown) -> Criterion {
    match unknown.criterion {
        Criterion::TableMean => Criterion::Limit(Quantity::Mean),
        Criterion::TableGust => Criterion::Limit(Quantity::Gust),
        limit => limit,
    }
}
