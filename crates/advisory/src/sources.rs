//! Which runs were used for what, and what made the call stricter.

use crate::document::{SourceUse, Tightening};
use crate::inputs::Inputs;
use crate::plan_words::sail_of;
use crate::words::{of_members, per_cent};
use club::{Boat, Level, Policy};
use conditions::VenueConditions;
use rules::Verdict;

/// The forecast runs, in the order of the policy, each once for each use.
pub fn sources_of(inputs: &Inputs, policy: &Policy, conditions: &VenueConditions) -> Vec<SourceUse> {
    let uses = [
        ("wind and gust", &policy.wind_sources),
        ("single run", &policy.deterministic_sources),
        ("sea", &policy.wave_sources),
        ("weather", &policy.weather_sources),
    ];
    uses.into_iter()
        .flat_map(|(used_for, sources)| sources.iter().map(move |source| (used_for, source)))
        .filter_map(|(used_for, source)| {
            let found = conditions
                .sources()
                .iter()
                .find(|found| found.source.as_str() == source)?;
            let slice = inputs
                .slices
                .iter()
                .find(|slice| slice.source == found.source && Some(slice.reference) == found.reference);
            let facts = inputs.feed(&found.source);
            Some(SourceUse {
                used_for: used_for.to_owned(),
                source: source.clone(),
                run: found.reference,
                members: slice.map_or(0, |slice| u16::try_from(slice.members.len()).unwrap_or(u16::MAX)),
                attribution: facts.map(|facts| facts.attribution.clone()).unwrap_or_default(),
                notes: found
                    .unusable
                    .iter()
                    .map(|gap| format!("not used: {}", gap.words()))
                    .collect(),
            })
        })
        .collect()
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
