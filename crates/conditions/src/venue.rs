//! The conditions of one venue: which run serves which element over a span.
//!
//! Owns: the choice of sources by the club's policy. Must not know: limits, calls, sentences.

use crate::element::Element;
use crate::hour::Missing;
use crate::member::{Context, MemberSet, Run};
use crate::prepared::PreparedRun;
use crate::select;
use chrono::{DateTime, Utc};
use club::{Policy, Venue};
use forecast::{Gap, RunSlice, SourceId};
use serde::Serialize;
use std::collections::BTreeMap;
use std::sync::Arc;

/// The source of a stream that comes from the club's own table.
const STREAM_TABLE: &str = "stream-table";

/// A span of time, first and last instant included.
pub type Span = (DateTime<Utc>, DateTime<Utc>);

/// What became of a source the policy names.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SourceUse {
    /// The source.
    pub source: SourceId,
    /// The run taken, or the newest one if that is too old; none if none is at hand.
    pub reference: Option<DateTime<Utc>>,
    /// Why it could not be used in the span; none if it was used.
    pub unusable: Option<Gap>,
}

/// The conditions of a venue over a span.
#[derive(Clone, Debug)]
pub struct VenueConditions {
    ensemble: Option<MemberSet>,
    second_ensemble: Option<MemberSet>,
    deterministic: Option<MemberSet>,
    without_wind: MemberSet,
    sources: Vec<SourceUse>,
}

impl VenueConditions {
    /// Chooses runs by the policy and interpolates them to the venue's points.
    ///
    /// One run serves each source throughout the span. Slices may come in any order.
    pub fn assemble(
        venue: &Venue,
        policy: &Policy,
        slices: &[RunSlice],
        now: DateTime<Utc>,
        span: Span,
    ) -> Self {
        let runs = prepare(venue, policy, slices, now, span);
        let listed = |sources: &[String]| {
            sources
                .iter()
                .map(|source| runs[source].clone())
                .collect::<Vec<Run>>()
        };
        let weather = listed(&policy.weather_sources);
        let mut usable = weather.iter().flatten();
        let streams = usable.find(|run| run.offers(Element::Stream)).cloned();
        let context = Arc::new(Context {
            venue: venue.clone(),
            policy: policy.clone(),
            now,
            span,
            waves: listed(&policy.wave_sources),
            weather,
            streams,
            stream_table: SourceId::new(STREAM_TABLE),
        });
        let wind = listed(&policy.wind_sources);
        let finest = listed(&policy.deterministic_sources);
        let usable = |runs: &[Run], wanted: fn(usize) -> bool| -> Vec<MemberSet> {
            runs.iter()
                .flatten()
                .filter(|run| wanted(run.members.len()) && serves(run, span))
                .map(|run| MemberSet::of_run(run.clone(), context.clone()))
                .collect()
        };
        let single = |members| members == 1;
        let deterministic = usable(&finest, single)
            .into_iter()
            .chain(usable(&wind, single))
            .next();
        let mut ensembles = usable(&wind, |members| members > 1).into_iter();
        Self {
            ensemble: ensembles.next(),
            second_ensemble: ensembles.next(),
            deterministic,
            without_wind: MemberSet::without_wind(why_no_wind(&wind), context.clone()),
            sources: runs
                .iter()
                .map(|(source, run)| source_use(source, run, span))
                .collect(),
        }
    }

    /// The same runs at the same points, as the venue's and the policy's corrections there would have them. What runs are taken
    /// and where stays: a venue with other points or a policy with other sources needs [`Self::assemble`].
    pub fn corrected_by(&self, venue: &Venue, policy: &Policy) -> Self {
        let context = Arc::new(Context {
            venue: venue.clone(),
            policy: policy.clone(),
            ..Context::clone(&self.without_wind.context)
        });
        let within = |set: &MemberSet| MemberSet {
            context: context.clone(),
            ..set.clone()
        };
        Self {
            ensemble: self.ensemble.as_ref().map(within),
            second_ensemble: self.second_ensemble.as_ref().map(within),
            deterministic: self.deterministic.as_ref().map(within),
            without_wind: within(&self.without_wind),
            sources: self.sources.clone(),
        }
    }

    /// The first wind source of the policy that is an ensemble (more than one member) and usable in the span.
    pub fn ensemble(&self) -> Option<&MemberSet> {
        self.ensemble.as_ref()
    }

    /// The second such source.
    pub fn second_ensemble(&self) -> Option<&MemberSet> {
        self.second_ensemble.as_ref()
    }

    /// The finest deterministic run that is usable in the span.
    pub fn deterministic(&self) -> Option<&MemberSet> {
        self.deterministic.as_ref()
    }

    /// The ensemble, or the deterministic run, or one lone member without wind whose waves and weather are still known:
    /// a missing wind must not hide a sea that is already too high.
    pub fn governing(&self) -> &MemberSet {
        self.ensemble()
            .or(self.deterministic())
            .unwrap_or(&self.without_wind)
    }

    /// Every source that the policy names, by name, with the run taken or why none was.
    pub fn sources(&self) -> &[SourceUse] {
        &self.sources
    }
}

/// Every source the policy names, each run interpolated once.
fn prepare(
    venue: &Venue,
    policy: &Policy,
    slices: &[RunSlice],
    now: DateTime<Utc>,
    span: Span,
) -> BTreeMap<String, Run> {
    // The newest land mask first: `land_mask` takes the first that knows a place.
    let mut masks: Vec<&RunSlice> = slices.iter().collect();
    masks.sort_by_key(|slice| std::cmp::Reverse(slice.reference));
    let lists = [
        &policy.wind_sources,
        &policy.deterministic_sources,
        &policy.wave_sources,
        &policy.weather_sources,
    ];
    let mut runs = BTreeMap::new();
    for source in lists.into_iter().flatten() {
        runs.entry(source.clone()).or_insert_with(|| {
            match select::run_for(source, slices, policy, now, span) {
                Ok(slice) => Ok(Arc::new(PreparedRun::new(slice, venue, &masks))),
                Err((gap, reference)) => Err(Missing {
                    elsewhere: None,
                    gap,
                    source: Some(SourceId::new(source)),
                    reference,
                }),
            }
        });
    }
    runs
}

/// Whether a run says anything within a span.
fn serves(run: &PreparedRun, span: Span) -> bool {
    run.span()
        .is_some_and(|(first, last)| first <= span.1 && last >= span.0)
}

/// Why no wind source serves: a run that is too old or ends before the span says more than a source that was never there.
fn why_no_wind(wind: &[Run]) -> Missing {
    let reasons: Vec<Missing> = wind
        .iter()
        .map(|run| match run {
            Err(missing) => missing.clone(),
            Ok(run) => Missing {
                elsewhere: None,
                gap: Gap::BeyondRun,
                source: Some(run.source.clone()),
                reference: Some(run.reference),
            },
        })
        .collect();
    let telling = reasons
        .iter()
        .find(|missing| missing.gap != Gap::NoRun)
        .or(reasons.first());
    telling.cloned().unwrap_or(Missing {
        elsewhere: None,
        gap: Gap::NoRun,
        source: None,
        reference: None,
    })
}

fn source_use(source: &str, run: &Run, span: Span) -> SourceUse {
    let (reference, unusable) = match run {
        Ok(run) if serves(run, span) => (Some(run.reference), None),
        Ok(run) => (Some(run.reference), Some(Gap::BeyondRun)),
        Err(missing) => (missing.reference, Some(missing.gap)),
    };
    SourceUse {
        source: SourceId::new(source),
        reference,
        unusable,
    }
}
