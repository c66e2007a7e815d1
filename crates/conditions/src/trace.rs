//! How a value came about: run, member, steps, nodes, messages and corrections, for `explain`.
//!
//! Owns: the account of one value. Must not know: how it is printed, limits, calls.

use crate::element::Element;
use crate::hour::{Missing, Notes};
use chrono::{DateTime, Utc};
use forecast::{MessageRecord, Node, Parameter, Sample, SourceId, Step};
use serde::Serialize;

/// The account of one value.
#[derive(Clone, Debug, Serialize)]
pub struct Trace {
    /// Which element.
    pub element: Element,
    /// The instant.
    pub time: DateTime<Utc>,
    /// The source and the run the value was taken from; none if no run is at hand.
    pub run: Option<(SourceId, DateTime<Utc>)>,
    /// The member whose value it is.
    pub member: forecast::Member,
    /// The venue's point that counted, as shown; none if missing.
    pub point: Option<String>,
    /// One account for each parameter, step and message that carries weight.
    pub steps: Vec<TracedStep>,
    /// What was done to the interpolated value, in order.
    pub corrections: Vec<Correction>,
    /// The value that `HourConditions` has: in the element's unit (a wind is its speed in knots), or why there is none.
    pub value: Result<f64, Missing>,
    /// The notes that the value carries.
    pub notes: Notes,
}

/// What one message gave.
#[derive(Clone, Debug, Serialize)]
pub struct TracedStep {
    /// Which parameter.
    pub parameter: Parameter,
    /// Which step.
    pub step: Step,
    /// The instant the step is valid for.
    pub valid: DateTime<Utc>,
    /// Its weight in time, 0 to 1; for a maximum or minimum of steps each has 1.
    pub weight: f64,
    /// The value at the place, in the message's unit, or why there is none.
    pub value: Result<f64, forecast::Gap>,
    /// The nodes that carried weight in space.
    pub nodes: Vec<TracedNode>,
    /// Whether the message gives a component along a turned grid, of which this is the true one, made of both components.
    pub turned_to_true_north: bool,
    /// File, offset and length of the message.
    pub message: Option<MessageRecord>,
}

/// What one node gave.
#[derive(Clone, Debug, Serialize)]
pub struct TracedNode {
    /// The node.
    pub node: Node,
    /// Its weight in space, 0 to 1.
    pub weight: f64,
    /// The value in the message, or what was made of it by a turn to true north, in the message's unit.
    pub sample: Sample,
}

/// One thing that was done to an interpolated value.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "what")]
pub enum Correction {
    /// The mean was multiplied by the factor of a sector of the venue.
    SectorFactor {
        /// The factor.
        factor: f64,
    },
    /// The gust was made from the mean times this factor.
    EstimatedGust {
        /// The factor.
        factor: f64,
    },
    /// The gust was raised to the mean.
    GustRaisedToMean,
    /// A front passes: the gust was multiplied.
    Front {
        /// By what.
        factor: f64,
        /// How far the wind turned, degrees.
        veer_deg: f64,
    },
    /// The sea breeze to plan for took the forecast's place.
    SeaBreeze {
        /// What is planned for.
        planned_kn: f64,
        /// By how many degrees Celsius the land is warmer than the sea; none where that is not known.
        warmer_c: Option<f64>,
    },
    /// The part of a stream that runs against the wind was added.
    OpposingStream {
        /// That part.
        knots: f64,
    },
    /// The sea that the local wind raises took the place of the model's.
    ByFetch {
        /// The mean wind that raises it.
        wind_kn: f64,
        /// Where that sea comes from, degrees.
        from_deg: f64,
        /// The model's height, m; none where no model is asked.
        model_m: Option<f64>,
    },
    /// The sea runs into a stream: its height was multiplied.
    SeaOnStream {
        /// By what.
        ratio: f64,
    },
    /// The stream makes the sea break: it stands as high as it can before it does.
    Breaking {
        /// What its height was multiplied by.
        ratio: f64,
    },
}

/// What was done to a value, in order. Kept in place, as every value of every member has one.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Corrections {
    done: [Option<Correction>; MOST],
    count: usize,
}

/// A gust can be estimated, raised by a sector, raised to the mean, raised by a front, by the sea breeze and by a stream.
const MOST: usize = 6;

impl Corrections {
    /// One more. What one value can meet fits in.
    pub(crate) fn push(&mut self, correction: Correction) {
        if let Some(place) = self.done.get_mut(self.count) {
            *place = Some(correction);
            self.count += 1;
        }
    }

    /// All of them, in order.
    pub(crate) fn all(&self) -> impl Iterator<Item = Correction> {
        self.done.into_iter().flatten()
    }
}
