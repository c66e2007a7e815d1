//! What is kept of one source at one point of a venue: the values that the conditions interpolate, in the forecast's units.
//!
//! Owns: asking the conditions for the account of every value, so that what is printed is what advisories use.
//! Must not know: how anything is interpolated, which the `conditions` crate does.

use crate::error::AdvisorError;
use chrono::{DateTime, TimeDelta, Utc};
use club::{Policy, Venue};
use conditions::{Element, MemberSet, TracedNode, TracedStep, VenueConditions};
use feeds::Feed;
use feeds::catalogue::Catalogue;
use forecast::{Gap, Member, Parameter, RunSlice, SourceId, Step};
use seaway::LatLon;
use store::{Store, StoreError};

/// No run is too old to be looked at.
const ANY_AGE_H: f64 = 1e6;

/// What is kept of a source's newest run at one point.
pub struct KeptPoint {
    /// The source.
    pub source: SourceId,
    /// The run's reference time.
    pub run: DateTime<Utc>,
    /// How many members it has.
    pub members: usize,
    /// The point's name.
    pub point: String,
    /// Where it is.
    pub at: LatLon,
    /// The nodes around it that carry weight, in words.
    pub nodes: Vec<String>,
    /// The values, by member, hour and quantity.
    pub values: Vec<KeptValue>,
}

/// One value or why it is missing.
pub struct KeptValue {
    /// The member.
    pub member: Member,
    /// The hour it is for.
    pub valid: DateTime<Utc>,
    /// The quantity.
    pub parameter: Parameter,
    /// In the parameter's unit.
    pub value: Result<f64, Gap>,
}

/// What is kept of the newest run of a source at one of a venue's points; none if nothing is.
///
/// # Errors
/// If the store cannot be read or the computation stopped.
pub async fn at_point(
    store: &Store,
    catalogue: &Catalogue,
    feed: &Feed,
    venue: &Venue,
    point: usize,
    now: DateTime<Utc>,
) -> Result<Option<KeptPoint>, AdvisorError> {
    let near = [venue.points[point].at];
    let Some(slice) = newest(store, &feed.name, now, &near, None).await? else {
        return Ok(None);
    };
    let mut slices = vec![slice];
    let mask = feed.land_mask.as_ref().and_then(|mask| catalogue.feed(mask));
    if let Some(mask) = mask {
        slices.extend(newest(store, &mask.name, now, &near, Some((Step(0), Step(0)))).await?);
    }
    // Every value is accounted for: off the async threads.
    let (feed, venue) = (feed.clone(), venue.clone());
    let found = tokio::task::spawn_blocking(move || accounted(&feed, &venue, point, &slices));
    Ok(Some(found.await?))
}

async fn newest(
    store: &Store,
    source: &SourceId,
    now: DateTime<Utc>,
    near: &[LatLon],
    steps: Option<(Step, Step)>,
) -> Result<Option<RunSlice>, StoreError> {
    match store.newest_run(source, now).await? {
        Some(run) => store.read_slice(source, run.reference, now, near, steps).await,
        None => Ok(None),
    }
}

/// The values of the first slice; the others only say what is land.
fn accounted(feed: &Feed, venue: &Venue, point: usize, slices: &[RunSlice]) -> KeptPoint {
    let slice = &slices[0];
    let mut alone = venue.clone();
    alone.points = vec![venue.points[point].clone()];
    // What the source says is shown, not what the venue's water makes of it.
    (alone.fetch, alone.stream, alone.sea_breeze) = (None, None, None);
    let span = (
        slice
            .steps
            .first()
            .map_or(slice.reference, |step| slice.valid_time(*step)),
        slice
            .steps
            .last()
            .map_or(slice.reference, |step| slice.valid_time(*step)),
    );
    let policy = policy_of(&feed.name);
    let conditions = VenueConditions::assemble(&alone, &policy, slices, slice.reference, span);
    let set = conditions
        .ensemble()
        .or(conditions.deterministic())
        .unwrap_or(conditions.governing());
    let account = Account {
        feed,
        slice,
        slices,
        set,
    };
    let mut nodes: Vec<TracedNode> = Vec::new();
    let mut values = Vec::new();
    for &member in &slice.members {
        for &step in &slice.steps {
            for parameter in Parameter::ALL {
                if let Some((value, of_value)) = account.value(member, step, parameter) {
                    if nodes.len() < of_value.len() {
                        nodes = of_value;
                    }
                    values.push(KeptValue {
                        member,
                        valid: slice.valid_time(step),
                        parameter,
                        value,
                    });
                }
            }
        }
    }
    let place = alone.points[0].at;
    KeptPoint {
        source: feed.name.clone(),
        run: slice.reference,
        members: slice.members.len(),
        point: alone.points[0].name.clone(),
        at: place,
        nodes: nodes.iter().map(|node| node_words(place, node)).collect(),
        values,
    }
}

/// A policy by which this source serves everything.
fn policy_of(source: &SourceId) -> Policy {
    let only = vec![source.to_string()];
    Policy {
        wind_sources: only.clone(),
        deterministic_sources: only.clone(),
        wave_sources: only.clone(),
        weather_sources: only,
        stale_after_near_h: ANY_AGE_H,
        stale_after_far_h: ANY_AGE_H,
        stale_after_regional_h: ANY_AGE_H,
        ..Policy::default()
    }
}

struct Account<'a> {
    feed: &'a Feed,
    slice: &'a RunSlice,
    slices: &'a [RunSlice],
    set: &'a MemberSet,
}

impl Account<'_> {
    /// One value with its nodes; none where the feed does not give the quantity at that step.
    fn value(
        &self,
        member: Member,
        step: Step,
        parameter: Parameter,
    ) -> Option<(Result<f64, Gap>, Vec<TracedNode>)> {
        let want = self.feed.wanted(parameter).filter(|want| !want.static_field)?;
        let element = element_of(parameter).filter(|_| step.0 >= want.first_step)?;
        let at = self.slice.valid_time(step);
        // A sum or a maximum is of the interval that ends with its step: just before its end no other is meant.
        let found = [at, at - TimeDelta::seconds(1)].into_iter().find_map(|time| {
            let trace = self.set.trace(self.slices, element, member, time);
            trace
                .steps
                .into_iter()
                .find(|traced| traced.step == step && traced.parameter == parameter)
        });
        let Some(TracedStep { value, nodes, .. }) = found else {
            return Some((Err(self.why(member, step, parameter)), Vec::new()));
        };
        Some((value, nodes))
    }

    /// Why there is no account of a value at all.
    fn why(&self, member: Member, step: Step, parameter: Parameter) -> Gap {
        match self
            .slice
            .message(parameter, member, step)
            .map(|record| record.outcome)
        {
            Some(forecast::Outcome::Missing(gap)) => gap,
            _ => Gap::NotThere,
        }
    }
}

/// The element that a quantity is an ingredient of; none for the land mask.
fn element_of(parameter: Parameter) -> Option<Element> {
    Some(match parameter {
        Parameter::WindU | Parameter::WindV => Element::Wind,
        Parameter::Gust => Element::Gust,
        Parameter::Pressure => Element::Pressure,
        Parameter::AirTemperature => Element::Air,
        Parameter::DewPoint => Element::DewPoint,
        Parameter::Visibility => Element::Visibility,
        Parameter::Cape => Element::Cape,
        Parameter::Precipitation => Element::Rain,
        Parameter::SurfaceTemperature => Element::Water,
        Parameter::WaveHeight => Element::WaveHeight,
        Parameter::WavePeriod => Element::WavePeriod,
        Parameter::WaveDirection => Element::WaveFrom,
        Parameter::StreamU | Parameter::StreamV => Element::Stream,
        Parameter::LandShare => return None,
    })
}

/// "43.50 N 15.50 W (4.2 nm)".
fn node_words(place: LatLon, node: &TracedNode) -> String {
    let at = node.node.at;
    let side = |value: f64, positive, negative| if value < 0.0 { negative } else { positive };
    format!(
        "{:.2} {} {:.2} {} ({:.1} nm)",
        at.lat.abs(),
        side(at.lat, "N", "S"),
        at.lon.abs(),
        side(at.lon, "E", "W"),
        place.distance(at).0
    )
}
