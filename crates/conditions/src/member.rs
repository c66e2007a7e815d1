//! The members of one wind source: what each says at an instant, all elements together.
//!
//! Owns: how elements of several sources make one hour. Must not know: corrections, limits, calls.

use crate::asked::Asked;
use crate::element::Element;
use crate::elements::Found;
use crate::hour::{HourConditions, Known, Missing, Notes, Reading};
use crate::prepared::PreparedRun;
use crate::select;
use crate::venue::Span;
use chrono::{DateTime, DurationRound, TimeDelta, Utc};
use club::{Policy, Venue};
use forecast::{Gap, Member, SourceId};
use seaway::{Celsius, DirectionFrom, Hectopascals, Metres, Seconds};
use std::sync::Arc;

/// A run, or why the source has none to use.
pub(crate) type Run = Result<Arc<PreparedRun>, Missing>;

/// What all member sets of a venue share.
#[derive(Clone, Debug)]
pub(crate) struct Context {
    pub(crate) venue: Venue,
    pub(crate) policy: Policy,
    pub(crate) now: DateTime<Utc>,
    pub(crate) span: Span,
    pub(crate) waves: Vec<Run>,
    pub(crate) weather: Vec<Run>,
    /// The run that gives the stream, if one does: it goes before the club's table.
    pub(crate) streams: Option<Arc<PreparedRun>>,
    /// What the club's stream table is called where a source is named.
    pub(crate) stream_table: SourceId,
}

/// The members of one wind source, each with all elements.
#[derive(Clone, Debug)]
pub struct MemberSet {
    /// The source of wind and gust.
    pub source: SourceId,
    /// The reference time of its run; none where no wind run is at hand.
    pub reference: Option<DateTime<Utc>>,
    /// Its members, ascending.
    pub members: Vec<Member>,
    pub(crate) wind: Run,
    pub(crate) context: Arc<Context>,
}

impl MemberSet {
    pub(crate) fn of_run(run: Arc<PreparedRun>, context: Arc<Context>) -> Self {
        Self {
            source: run.source.clone(),
            reference: Some(run.reference),
            members: run.members.clone(),
            wind: Ok(run),
            context,
        }
    }

    pub(crate) fn without_wind(why: Missing, context: Arc<Context>) -> Self {
        let source = why.source.clone().unwrap_or_else(|| SourceId::new("none"));
        Self {
            source,
            reference: None,
            members: vec![Member(0)],
            wind: Err(why),
            context,
        }
    }

    /// What one member says at an instant.
    pub fn at(&self, member: Member, time: DateTime<Utc>) -> HourConditions {
        let asked = Asked::new(self, member, time);
        let winds = asked.winds();
        let sea = asked.sea(&winds);
        let element = |element| self.element(element, member, time);
        HourConditions {
            time,
            wind: known(winds.mean, |wind| wind),
            gust: known(winds.gust, |gust| gust),
            wave_height: known(sea.height, Metres),
            wave_period: known(sea.period, Seconds),
            wave_from: known(sea.from, DirectionFrom::new),
            steepness: sea.steepness,
            air: known(element(Element::Air), Celsius),
            dew_point: known(element(Element::DewPoint), Celsius),
            visibility: known(element(Element::Visibility), Metres),
            rain_mm_per_h: known(asked.rain().clone(), |rate| rate),
            cape_j_per_kg: known(element(Element::Cape), |energy| energy),
            water: known(element(Element::Water), Celsius),
            pressure: known(element(Element::Pressure), Hectopascals),
            stream: asked.stream,
        }
    }

    /// The whole hours of the span that lie between the first and the last step of the wind's run.
    pub fn hours_of_run(&self) -> Vec<DateTime<Utc>> {
        let Some((first, last)) = self.wind.as_ref().ok().and_then(|run| run.span()) else {
            return Vec::new();
        };
        let hour = TimeDelta::hours(1);
        let (from, to) = (first.max(self.context.span.0), last.min(self.context.span.1));
        let Ok(whole) = from.duration_trunc(hour) else {
            return Vec::new();
        };
        let start = if whole < from { whole + hour } else { whole };
        std::iter::successors(Some(start), |time| Some(*time + hour))
            .take_while(|time| *time <= to)
            .collect()
    }

    /// Whether the set is an ensemble: more than one member.
    pub fn is_ensemble(&self) -> bool {
        self.members.len() > 1
    }

    /// The row of a member in a run, if the run may be used for the instant.
    pub(crate) fn usable(
        &self,
        run: &PreparedRun,
        member: Member,
        time: DateTime<Utc>,
    ) -> Result<usize, Gap> {
        let context = &self.context;
        if select::too_old(&context.policy, run.regional, run.reference, context.now, time) {
            return Err(Gap::RunTooOld);
        }
        run.row(member).ok_or(Gap::NotThere)
    }
}

/// A value as its reader gets it.
pub(crate) fn reading<T>(run: &PreparedRun, value: T, notes: Notes) -> Reading<T> {
    Reading {
        value,
        source: run.source.clone(),
        reference: run.reference,
        notes,
    }
}

/// A found value in its unit.
fn known<T: Copy, U>(found: Found<T>, unit: impl Fn(T) -> U) -> Known<U> {
    found.map(|(run, at)| reading(&run, unit(at.value.value), at.value.notes))
}
