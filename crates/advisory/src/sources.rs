//! Which runs were used for what.
//!
//! Owns: that list. Must not know: calls.

use crate::document::SourceUse;
use crate::inputs::Inputs;
use club::Policy;
use conditions::VenueConditions;
use forecast::RunSlice;

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
