//! Which runs were used for what, and what made the call stricter.

use crate::document::{SourceUse, Tightening};
use crate::inputs::Inputs;
use crate::plan_words::sail_of;
use crate::words::{of_members, per_cent};
use club::{Boat, Level, Policy};
use conditions::VenueConditions;
use forecast::RunSlice;
use rules::Verdict;

/// The forecast runs, use by use, in the order of the policy: those refused and the first that serves.
pub fn sources_of(inputs: &Inputs, policy: &Policy, conditions: &VenueConditions) -> Vec<SourceUse> {
    let uses = [
        ("wind and gust", &policy.wind_sources),
        ("single run", &policy.deterministic_sources),
        ("sea", &policy.wave_sources),
        ("weather", &policy.weather_sources),
    ];
    uses.into_iter()
        .flat_map(|(used_for, sources)| {
            let found: Vec<&conditions::SourceUse> = sources
                .iter()
                .filter_map(|name| {
                    conditions
                        .sources()
                        .iter()
                        .find(|found| found.source.as_str() == name)
                })
                .collect();
            let asked = found
                .iter()
                .position(|found| found.unusable.is_none())
                .map_or(found.len(), |serves| serves + 1);
            found
                .into_iter()
                .take(asked)
                .map(move |found| source_use(inputs, used_for, found))
        })
        .collect()
}

fn source_use(inputs: &Inputs, used_for: &str, found: &conditions::SourceUse) -> SourceUse {
    let is_used =
        |slice: &&RunSlice| slice.source == found.source && Some(slice.reference) == found.reference;
    let members = inputs
        .slices
        .iter()
        .find(is_used)
        .map_or(0, |slice| slice.members.len());
    SourceUse {
        used_for: used_for.to_owned(),
        source: found.source.to_string(),
        run: found.reference,
        members: u16::try_from(members).unwrap_or(u16::MAX),
        attribution: inputs
            .feed(&found.source)
            .map(|facts| facts.attribution.clone())
            .unwrap_or_default(),
        notes: found
            .unusable
            .iter()
            .map(|gap| format!("not used: {}", gap.words()))
            .collect(),
    }
}

/// What made the call or the plan stricter than the bare forecast, and by how much.
pub fn tightenings_of(verdict: &Verdict, level: &Level, boat: &Boat) -> Vec<Tightening> {
    let mut told = Vec::new();
    let mut tell = |code: &str, words: String| {
        told.push(Tightening {
            code: code.to_owned(),
            words,
        })
    };
    let counted = &verdict.counted;
    if let (Some(share), Some(p)) = (counted.share_no_go(), verdict.p_no_go)
        && (share - p).abs() >= 0.005
    {
        tell(
            "spread-floor",
            format!(
                "The floors of spread move the chance of no-go from {} to {}.",
                per_cent(share),
                per_cent(p)
            ),
        );
    }
    if counted.accumulated > 0 {
        let members = of_members(counted.accumulated, counted.members());
        tell(
            "accumulation",
            format!(
                "Three cautions in one hour make a no-go for {}: so in {members}.",
                level.name
            ),
        );
    }
    if verdict.raised_by_deterministic {
        tell(
            "single-run",
            "The single finest run is past a stop: a go became marginal.".to_owned(),
        );
    }
    if level.extra_reefs > 0 {
        tell(
            "extra-reefs",
            format!(
                "{} carries {} row(s) more reefed than the table.",
                level.name, level.extra_reefs
            ),
        );
    }
    if let Some(plan) = &verdict.plan
        && plan.leave_with > plan.wanted_on_leaving
        && let Some(bare) = sail_of(boat, plan.wanted_on_leaving)
    {
        let hours = level.reef_ahead.num_hours();
        tell(
            "reef-ahead",
            format!(
                "On leaving the wind asks for {}; the next {hours} h ask for more.",
                bare.words
            ),
        );
    }
    told
}
