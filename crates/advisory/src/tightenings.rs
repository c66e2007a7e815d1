//! What moved a call from the bare forecast, each with what the call would be without it: against crying wolf.
//!
//! All of it makes a call stricter, but for the floors of spread where one run alone is past a stop: they are all the spread
//! it has, and say so where that is kinder. Owns: the list of tightenings and how each is taken away. Must not know: how a call is made.

use crate::document::{CallWord, Tightening};
use crate::inputs::Inputs;
use crate::make::{Cast, conditions_with};
use crate::plan_words::{rounded, sail_of};
use crate::voices::Voices;
use crate::words::{hour_minute, local, of_members, per_cent};
use chrono::{DateTime, Utc};
use club::{Club, Level, Policy, Venue};
use conditions::VenueConditions;
use rules::combined::Bare;
use rules::verdict::call_of;
use rules::{Call, Forecasts, Outing, Verdict};

/// What a session is called by, for taking one thing of it away.
#[derive(Clone)]
struct Without {
    venue: Venue,
    policy: Policy,
    level: Level,
}

/// What a tightening changes.
enum BearsOn {
    /// How conditions are judged.
    Judging,
    /// What is done to the values at the venue's points.
    Corrections,
    /// Which points count.
    Points,
}

/// A tightening that can be taken away.
struct Removable {
    code: &'static str,
    what: &'static str,
    /// How it is spoken of: "it" or "them".
    pronoun: &'static str,
    bears_on: BearsOn,
    /// Takes it away; false where the club does not have it.
    remove: fn(&mut Without) -> bool,
}

const REMOVABLE: [Removable; 11] = [
    Removable {
        code: "spread-floor",
        what: "The floors of spread",
        pronoun: "them",
        bears_on: BearsOn::Judging,
        remove: |without| {
            without.policy.spread_floor.clear();
            true
        },
    },
    Removable {
        code: "accumulation",
        what: "Three cautions in one hour making a no-go",
        pronoun: "it",
        bears_on: BearsOn::Judging,
        remove: |without| std::mem::take(&mut without.level.accumulate),
    },
    Removable {
        code: "thunder",
        what: "Thunder stopping this level",
        pronoun: "it",
        bears_on: BearsOn::Judging,
        remove: |without| std::mem::take(&mut without.level.thunder_stops),
    },
    Removable {
        code: "limit-sectors",
        what: "Limits tightened by where the wind comes from",
        pronoun: "them",
        bears_on: BearsOn::Judging,
        remove: |without| !std::mem::take(&mut without.venue.limit_sectors).is_empty(),
    },
    Removable {
        code: "wind-sectors",
        what: "Factors on the wind by sector",
        pronoun: "them",
        bears_on: BearsOn::Corrections,
        remove: |without| !std::mem::take(&mut without.venue.wind_sectors).is_empty(),
    },
    Removable {
        code: "worst-point",
        what: "The worst of the venue's points counting",
        pronoun: "it",
        bears_on: BearsOn::Points,
        remove: |without| {
            let several = without.venue.points.len() > 1;
            without.venue.points.truncate(1);
            several
        },
    },
    Removable {
        code: "stream",
        what: "The stream against the wind",
        pronoun: "it",
        bears_on: BearsOn::Corrections,
        remove: |without| without.venue.stream.take().is_some(),
    },
    Removable {
        code: "fetch",
        what: "The sea raised by the local wind",
        pronoun: "it",
        bears_on: BearsOn::Corrections,
        remove: |without| without.venue.fetch.take_if(|fetch| !fetch.alone).is_some(),
    },
    Removable {
        code: "sea-breeze",
        what: "Planning for the sea breeze",
        pronoun: "it",
        bears_on: BearsOn::Corrections,
        remove: |without| without.venue.sea_breeze.take().is_some(),
    },
    Removable {
        code: "front",
        what: "Gusts raised while a front passes",
        pronoun: "it",
        bears_on: BearsOn::Corrections,
        remove: |without| std::mem::replace(&mut without.policy.front_gust_factor, 1.0) > 1.0,
    },
    Removable {
        code: "entrance",
        what: "The entrance's own limits",
        pronoun: "them",
        bears_on: BearsOn::Judging,
        remove: |without| {
            let entrance = without.venue.entrance.as_mut();
            entrance.is_some_and(|entrance| entrance.wave.take().is_some() | entrance.gate.take().is_some())
        },
    },
];

/// A session as it was called.
pub(crate) struct Called<'a> {
    pub(crate) inputs: &'a Inputs,
    pub(crate) club: &'a Club,
    pub(crate) cast: Cast<'a>,
    pub(crate) conditions: &'a VenueConditions,
    pub(crate) forecasts: &'a Forecasts<'a>,
    pub(crate) outing: &'a Outing<'a>,
    pub(crate) verdict: &'a Verdict,
    pub(crate) issued_at: DateTime<Utc>,
}

/// What moved the call or the plan, and by how much. A call that could not be made has nothing to be stricter than.
pub(crate) fn tightenings_of(called: &Called<'_>) -> Vec<Tightening> {
    let mut told = Vec::new();
    let mut idle = Vec::new();
    if called.verdict.call != Call::NoCall {
        for removable in &REMOVABLE {
            let mut without = Without {
                venue: called.cast.venue.clone(),
                policy: called.club.policy.clone(),
                level: called.cast.level.clone(),
            };
            if !(removable.remove)(&mut without) {
                continue;
            }
            match effect(called, removable, &bare_without(called, removable, &without)) {
                Some(tightening) => told.push(tightening),
                None => idle.push(removable.what),
            }
        }
        told.extend(second_source(called.verdict));
        told.extend(single_run(called.verdict));
        told.extend(worst_hour(called));
    }
    told.extend(in_the_plan(called));
    if !idle.is_empty() {
        let idle: Vec<String> = idle.iter().map(|what| lower_first(what)).collect();
        told.push(plain(
            "no-effect",
            format!("Without effect on this call: {}.", idle.join("; ")),
        ));
    }
    told
}

fn bare_without(called: &Called<'_>, removable: &Removable, without: &Without) -> Bare {
    let (venue, policy) = (&without.venue, &without.policy);
    let again = match removable.bears_on {
        BearsOn::Judging => None,
        BearsOn::Corrections => Some(called.conditions.corrected_by(venue, policy)),
        BearsOn::Points => Some(conditions_with(called.inputs, policy, venue, called.issued_at)),
    };
    let outing = Outing {
        policy: &without.policy,
        venue: &without.venue,
        level: &without.level,
        ..*called.outing
    };
    match again {
        None => call_of(&outing, called.forecasts),
        Some(conditions) => call_of(&outing, &Voices::of(&conditions).forecasts()),
    }
}

/// What taking it away changes; none where that is nothing anyone would see.
fn effect(called: &Called<'_>, removable: &Removable, bare: &Bare) -> Option<Tightening> {
    let verdict = called.verdict;
    let moved = |with: Option<f64>, without: Option<f64>| match (with, without) {
        (Some(with), Some(without)) => (with - without).abs() >= 0.005,
        (with, without) => with.is_some() != without.is_some(),
    };
    let chances =
        moved(verdict.p_no_go, bare.p_no_go) || moved(verdict.p_marginal_or_worse, bare.p_marginal_or_worse);
    if bare.call == verdict.call && !chances {
        return None;
    }
    let call = CallWord::from(bare.call).words().to_lowercase();
    let verb = if bare.call == verdict.call {
        "still"
    } else {
        "it would be"
    };
    let mut words = format!("{}: without {} {verb} {call}", removable.what, removable.pronoun);
    if let (Some(with), Some(without)) = (verdict.p_no_go, bare.p_no_go)
        && moved(verdict.p_no_go, bare.p_no_go)
    {
        words += &format!(
            ", the chance of no-go {} instead of {}",
            per_cent(without),
            per_cent(with)
        );
    } else if let (Some(with), Some(without)) = (verdict.p_marginal_or_worse, bare.p_marginal_or_worse)
        && moved(verdict.p_marginal_or_worse, bare.p_marginal_or_worse)
    {
        words += &format!(
            ", the chance of marginal or worse {} instead of {}",
            per_cent(without),
            per_cent(with)
        );
    }
    if removable.code == "accumulation" && verdict.counted.accumulated > 0 {
        let members = of_members(verdict.counted.accumulated, verdict.counted.members());
        words += &format!("; so in {members}");
    }
    if is_kinder(verdict, bare) {
        words += &format!(": with {} it is the kinder one", removable.pronoun);
    }
    words.push('.');
    Some(Tightening {
        code: removable.code.to_owned(),
        words,
        call_without: Some(bare.call.into()),
        p_no_go_without: bare.p_no_go.map(|p| rounded(p, 4)),
    })
}

/// Whether the call is kinder than it would be without, or as bad with a smaller chance of it.
fn is_kinder(verdict: &Verdict, bare: &Bare) -> bool {
    let less = |with: Option<f64>, without: Option<f64>| matches!((with, without), (Some(with), Some(without)) if with < without);
    verdict.call < bare.call
        || verdict.call == bare.call
            && (less(verdict.p_no_go, bare.p_no_go)
                || verdict.p_no_go == bare.p_no_go
                    && less(verdict.p_marginal_or_worse, bare.p_marginal_or_worse))
}

fn plain(code: &str, words: String) -> Tightening {
    Tightening {
        code: code.to_owned(),
        words,
        call_without: None,
        p_no_go_without: None,
    }
}

/// Of two ensembles the worse, or their mean.
fn second_source(verdict: &Verdict) -> Option<Tightening> {
    let second = verdict.second.as_ref()?;
    let name = |counted: &rules::Counted| {
        counted
            .source
            .as_ref()
            .map(ToString::to_string)
            .unwrap_or_default()
    };
    let word = CallWord::from(second.call).words().to_lowercase();
    let chance = second
        .p_no_go
        .map_or(String::new(), |p| format!(", no-go {}", per_cent(p)));
    Some(Tightening {
        code: "second-source".to_owned(),
        words: format!("{} alone says {word}{chance}.", name(&second.counted)),
        call_without: None,
        p_no_go_without: None,
    })
}

fn single_run(verdict: &Verdict) -> Option<Tightening> {
    verdict.raised_by_deterministic.then(|| Tightening {
        code: "single-run".to_owned(),
        words: "The single finest run is past a stop: without it this would be a go.".to_owned(),
        call_without: Some(CallWord::Go),
        p_no_go_without: verdict.p_no_go.map(|p| rounded(p, 4)),
    })
}

/// A session is as bad as its worst hour: how many of its hours are.
fn worst_hour(called: &Called<'_>) -> Option<Tightening> {
    let call = called.verdict.call;
    let out: Vec<_> = called.verdict.hours.iter().filter(|hour| hour.out).collect();
    let as_bad: Vec<_> = out.iter().filter(|hour| hour.call >= call).collect();
    if call == Call::Go || as_bad.is_empty() || as_bad.len() == out.len() {
        return None;
    }
    let zone = called.club.time_zone;
    let when: Vec<String> = as_bad
        .iter()
        .map(|hour| hour_minute(local(hour.at, zone)))
        .collect();
    let word = CallWord::from(call).words().to_lowercase();
    Some(plain(
        "worst-hour",
        format!(
            "The worst hour makes the call: {} of the {} hours looked at are {word} by themselves ({}).",
            as_bad.len(),
            out.len(),
            when.join(", ")
        ),
    ))
}

/// What made the sail plan stricter.
fn in_the_plan(called: &Called<'_>) -> Vec<Tightening> {
    let (level, boat) = (called.cast.level, called.cast.boat);
    let mut told = Vec::new();
    if level.extra_reefs > 0 {
        let rows = level.extra_reefs;
        let rows = if rows == 1 {
            "one row".to_owned()
        } else {
            format!("{rows} rows")
        };
        told.push(plain(
            "extra-reefs",
            format!("{} carries {rows} more reefed than the table.", level.name),
        ));
    }
    if let Some(plan) = &called.verdict.plan
        && plan.leave_with > plan.wanted_on_leaving
        && let Some(bare) = sail_of(boat, plan.wanted_on_leaving)
    {
        let hours = level.reef_ahead.num_hours();
        told.push(plain(
            "reef-ahead",
            format!(
                "On leaving the wind asks for {}; the next {hours} h ask for more.",
                bare.words
            ),
        ));
    }
    told
}

fn lower_first(words: &str) -> String {
    let mut letters = words.chars();
    letters
        .next()
        .map_or_else(String::new, |first| first.to_lowercase().chain(letters).collect())
}
