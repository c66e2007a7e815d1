//! The conditions of one venue: which run serves which element, and what each member says at an instant.
//!
//! Owns: the choice of sources by the club's policy. Must not know: limits, calls, sentences.

use crate::hour::{HourConditions, Missing};
use chrono::{DateTime, Utc};
use club::model::{Policy, Venue};
use forecast::{Gap, Member, RunSlice, SourceId};
use serde::Serialize;

/// A span of time, first and last instant included.
pub type Span = (DateTime<Utc>, DateTime<Utc>);

/// What became of a source the policy names.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SourceUse {
    /// The source.
    pub source: SourceId,
    /// The run taken; none if none is at hand.
    pub reference: Option<DateTime<Utc>>,
    /// Why it could not be used in the span; none if it was used.
    pub unusable: Option<Gap>,
}

/// The conditions of a venue over a span.
#[derive(Clone, Debug)]
pub struct VenueConditions {
    ensemble: Option<MemberSet>,
    deterministic: Option<MemberSet>,
    without_wind: MemberSet,
    sources: Vec<SourceUse>,
}

impl VenueConditions {
    /// Chooses runs by the policy and interpolates them to the venue's points.
    pub fn assemble(
        _venue: &Venue,
        _policy: &Policy,
        _slices: &[RunSlice],
        _now: DateTime<Utc>,
        _span: Span,
    ) -> Self {
        let without_wind = MemberSet {
            source: SourceId::new("none"),
            reference: None,
            members: vec![Member(0)],
        };
        Self {
            ensemble: None,
            deterministic: None,
            without_wind,
            sources: Vec::new(),
        }
    }

    /// The first wind source of the policy that is an ensemble (more than one member) and usable in the span.
    pub fn ensemble(&self) -> Option<&MemberSet> {
        self.ensemble.as_ref()
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

    /// Every source that the policy names, with the run taken or why none was.
    pub fn sources(&self) -> &[SourceUse] {
        &self.sources
    }
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
}

impl MemberSet {
    /// What one member says at an instant.
    pub fn at(&self, _member: Member, time: DateTime<Utc>) -> HourConditions {
        let missing = Missing {
            gap: Gap::NoRun,
            source: None,
            reference: self.reference,
        };
        HourConditions {
            time,
            wind: Err(missing.clone()),
            gust: Err(missing.clone()),
            wave_height: Err(missing.clone()),
            wave_period: Err(missing.clone()),
            wave_from: Err(missing.clone()),
            air: Err(missing.clone()),
            dew_point: Err(missing.clone()),
            visibility: Err(missing.clone()),
            rain_mm_per_h: Err(missing.clone()),
            cape_j_per_kg: Err(missing.clone()),
            water: Err(missing.clone()),
            pressure: Err(missing),
        }
    }

    /// The whole hours of the span that lie between the first and the last step of the wind's run.
    pub fn hours_of_run(&self) -> Vec<DateTime<Utc>> {
        Vec::new()
    }
}
