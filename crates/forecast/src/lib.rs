//! The vocabulary of a forecast, shared by all who decode, keep, read and explain one.
//!
//! Owns: source, run, member, step, parameter, node, value or the reason it is missing, and the message it came from.
//! Is given: nothing. Must not know: how values are packed in GRIB, fetched, or kept; clubs, limits, sentences.

pub mod hash;
pub mod mesh;
pub mod nearest;
pub mod parameter;
pub mod series;

pub use parameter::Parameter;
pub use series::{
    FieldSeries, Gap, Interval, MessageRecord, Node, NodeSeries, Outcome, Process, RunSlice, Sample,
};

use serde::{Deserialize, Serialize};
use std::fmt;
use std::sync::Arc;

/// The name of an open forecast feed in the catalogue, for example `gfs` or `gfs-wave`. Every value carries one: cloning is cheap.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(from = "String", into = "String")]
pub struct SourceId(Arc<str>);

impl SourceId {
    /// From its name in the catalogue.
    pub fn new(name: impl Into<String>) -> Self {
        Self(name.into().into())
    }
    /// Its name in the catalogue.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl From<String> for SourceId {
    fn from(name: String) -> Self {
        Self(name.into())
    }
}

impl From<SourceId> for String {
    fn from(source: SourceId) -> Self {
        source.0.as_ref().to_owned()
    }
}

impl fmt::Display for SourceId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// One member of a run: 0 is the control, or the only one of a deterministic run.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Member(pub u16);

/// Lead time of a step after its run's reference time, whole hours.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Step(pub u16);
