//! The words of the page about the data: each source, its run, whose it is, what is missing and why.
//!
//! Times of runs are printed, never ages: the page stays the same while nothing changes.

use super::foot::{Foot, foot_without_advisory};
use super::nav::{NavLink, nav};
use crate::standing::{ExpectedRun, RunStanding, SourceStanding, SourceState};
use crate::wording::{ended, run_time};
use askama::Template;
use chrono::{DateTime, TimeDelta, Utc};
use club::{Club, Policy};

/// A source with whose it is.
#[derive(Clone, Debug)]
pub struct SourceAbout {
    /// How it stands.
    pub standing: SourceStanding,
    /// Its producer, licence, and the sentence the licence asks for; none where the catalogue does not know it.
    pub producer: Option<(String, String, String)>,
}

/// The page.
#[derive(Template)]
#[template(path = "data.html")]
pub(super) struct DataPage<'a> {
    club: &'a str,
    demo: Option<&'a str>,
    nav: Vec<NavLink>,
    sources: Vec<Source>,
    done: Vec<String>,
    foot: Foot,
}

/// One source.
struct Source {
    title: String,
    stands: String,
    facts: Vec<(&'static str, String)>,
}

/// Fills the page.
pub(super) fn page<'a>(club: &'a Club, sources: &[SourceAbout], demo: Option<&'a str>) -> DataPage<'a> {
    let asked = sources.iter().map(|about| source(&club.policy, about));
    DataPage {
        club: &club.name,
        demo,
        nav: nav("/about-the-data"),
        sources: asked.chain(not_asked(&club.policy, sources)).collect(),
        done: done(&club.policy),
        foot: foot_without_advisory(club, attributions(sources)),
    }
}

fn attributions(sources: &[SourceAbout]) -> Vec<String> {
    let of = |about: &SourceAbout| Some(ended(&about.producer.as_ref()?.2));
    sources.iter().filter_map(of).collect()
}

fn source(policy: &Policy, about: &SourceAbout) -> Source {
    let standing = &about.standing;
    let mut facts = vec![("Used for", used_for(policy, &standing.source))];
    if let Some(run) = &standing.newest_run {
        facts.push(("Newest run", newest(run)));
        facts.extend(missing(run).map(|words| ("Missing", words)));
    }
    facts.extend(standing.late_run.map(|run| ("Late", late(run))));
    facts.extend(standing.next_run.map(|run| ("Next run", next(run))));
    facts.extend(standing.last_error.as_ref().map(|error| {
        let went_on = if error.ended {
            "fetching ended"
        } else {
            "fetching went on with less"
        };
        let words = format!("{}: {}; {went_on}", run_time(error.at), error.words);
        ("Went wrong last", ended(&words))
    }));
    facts.extend(
        standing
            .notice
            .as_deref()
            .map(|notice| ("Announced", ended(notice))),
    );
    if let Some((producer, licence, attribution)) = &about.producer {
        facts.push(("Producer", ended(producer)));
        facts.push(("Licence", ended(licence)));
        facts.push(("Attribution", ended(attribution)));
    }
    Source {
        title: format!("{} ({})", standing.title, standing.source),
        stands: stands(standing),
        facts,
    }
}

/// One sentence: whether it is of use, and if not, why.
fn stands(standing: &SourceStanding) -> String {
    match (&standing.newest_run, standing.state) {
        (Some(run), SourceState::Usable) if run.complete => "Of use, and complete.".to_owned(),
        (Some(_), SourceState::Usable) => "Of use; something is missing.".to_owned(),
        (Some(run), SourceState::Stale) => {
            let out_by = run.run + TimeDelta::minutes(i64::from(standing.stale_after_min));
            format!("Late: a newer run should have been out by {}.", run_time(out_by))
        }
        (Some(_), SourceState::Unreadable) => {
            "Of no use: no message of its newest run could be read.".to_owned()
        }
        (None, _) | (_, SourceState::Absent) => {
            "Of no use: nothing of it has been fetched, so no run is kept.".to_owned()
        }
    }
}

fn newest(run: &RunStanding) -> String {
    format!(
        "{}, read until {}; {} of {} parts and {} of {} messages are kept.",
        run_time(run.run),
        run_time(run.reaches),
        run.parts_kept,
        run.parts_of_run,
        run.messages_read,
        run.messages_wanted
    )
}

/// What the run lacks; its name stands a line above.
fn missing(run: &RunStanding) -> Option<String> {
    let lacks = run.lacks()?;
    let named = format!("of run {} ", run_time(run.run));
    Some(ended(lacks.strip_prefix(&named).unwrap_or(&lacks)))
}

fn late(run: ExpectedRun) -> String {
    format!(
        "Nothing is kept of the run of {}, usually out from {} on.",
        run_time(run.run),
        run_time(run.usually_out_at)
    )
}

fn next(run: ExpectedRun) -> String {
    format!(
        "{}, usually out from {} on.",
        run_time(run.run),
        hour_from(run.usually_out_at, run.run)
    )
}

/// "15:30 UTC", with its day where that is another than the run's.
fn hour_from(at: DateTime<Utc>, run: DateTime<Utc>) -> String {
    if at.date_naive() == run.date_naive() {
        at.format("%H:%M UTC").to_string()
    } else {
        run_time(at)
    }
}

fn uses(policy: &Policy) -> [(&Vec<String>, &'static str); 4] {
    [
        (&policy.wind_sources, "wind and gust"),
        (
            &policy.deterministic_sources,
            "the finest single run beside an ensemble",
        ),
        (&policy.wave_sources, "waves"),
        (
            &policy.weather_sources,
            "visibility, temperature, rain and thunder",
        ),
    ]
}

fn used_for(policy: &Policy, source: &str) -> String {
    let named = uses(policy)
        .into_iter()
        .filter(|(names, _)| names.iter().any(|name| name == source));
    let words: Vec<&str> = named.map(|(_, words)| words).collect();
    if words.is_empty() {
        return "Nothing: the club’s policy does not name it.".to_owned();
    }
    let text = words.join("; ");
    let mut signs = text.chars();
    let first = signs
        .next()
        .map(|sign| sign.to_uppercase().to_string())
        .unwrap_or_default();
    ended(&(first + signs.as_str()))
}

/// Sources that the policy names and the service does not ask.
fn not_asked(policy: &Policy, sources: &[SourceAbout]) -> Vec<Source> {
    let mut names: Vec<&String> = uses(policy).into_iter().flat_map(|(names, _)| names).collect();
    names.sort_unstable();
    names.dedup();
    let asked = |name: &&String| sources.iter().any(|about| about.standing.source == **name);
    let of = |name: &String| Source {
        title: name.clone(),
        stands: "Not asked: the club’s policy names it, and this service does not fetch it.".to_owned(),
        facts: vec![("Used for", used_for(policy, name))],
    };
    names.into_iter().filter(|name| !asked(name)).map(of).collect()
}

fn done(policy: &Policy) -> Vec<String> {
    [
        "Values are interpolated between the nodes around each of the club’s points, or are those of the nearest cell of a mesh, \
         at sea where a land mask tells sea from land; between two steps they are interpolated in time. Of several points the \
         windiest and the roughest count."
            .to_owned(),
        format!(
            "Where a source gives no gust it is the mean times {} at sea and times {} with the wind off the land, and marked as \
             an estimate.",
            policy.gust_factor_sea, policy.gust_factor_land
        ),
        "Then the club’s own corrections: factors by sector, fronts, the sea breeze, the stream. Each stands beside the value \
         it changed."
            .to_owned(),
        "Each member of an ensemble is called by itself and the calls are counted; where the members agree more than \
         forecasts deserve, a least spread is added."
            .to_owned(),
        "What is missing, late or damaged stays missing, with its reason. It never makes a call kinder.".to_owned(),
    ]
    .into()
}
