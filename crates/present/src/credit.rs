//! Which runs were used and what their producers ask to be said: each once, in the order of first use.
//!
//! Owns: those lines, the same on every surface. Must not know: where they stand.

use crate::shown::run_words;
use crate::wording::{ended, run_time};
use advisory::document::{Advisory, SourceUse};

/// "Forecast runs: gefs of Mon 13 May 00:00 UTC; gfs of Mon 13 May 06:00 UTC." None where no run served.
pub(crate) fn runs_line(advisories: &[&Advisory]) -> Option<String> {
    let words = sources(advisories).filter_map(|used| {
        let run = used.run?;
        Some(format!("{} of {}", used.source, run_time(run)))
    });
    let named = unique(words);
    (!named.is_empty()).then(|| format!("Forecast runs: {}.", named.join("; ")))
}

/// The sentences that the producers of the runs used ask for.
pub(crate) fn attributions(advisories: &[&Advisory]) -> Vec<String> {
    let used = sources(advisories).filter(|used| used.run.is_some());
    unique(used.map(|used| ended(&used.attribution)))
}

/// The runs that an advisory used, with their members and notes.
pub(crate) fn runs_used(advisory: &Advisory) -> Vec<String> {
    let used = advisory.sources.iter().filter(|used| used.run.is_some());
    unique(used.map(run_words))
}

fn sources<'a>(advisories: &'a [&Advisory]) -> impl Iterator<Item = &'a SourceUse> {
    advisories.iter().flat_map(|advisory| &advisory.sources)
}

/// Each text once, in the order of its first use.
fn unique(texts: impl Iterator<Item = String>) -> Vec<String> {
    let mut seen = Vec::new();
    for text in texts.filter(|text| !text.is_empty()) {
        if !seen.contains(&text) {
            seen.push(text);
        }
    }
    seen
}
