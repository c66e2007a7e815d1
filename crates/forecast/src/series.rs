//! Point series: what one run says at some nodes, value by value, each with its message or the reason it is missing.

use crate::{Member, Parameter, SourceId, Step};
use chrono::{DateTime, TimeDelta, Utc};
use seaway::LatLon;
use serde::{Deserialize, Serialize};

/// Why a value is missing. Missing is a value with a reason; it is never zero and never a guess.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Gap {
    /// The producer masks this node (a wave field over land).
    Masked,
    /// The feed's catalogue entry or the run's index does not offer the field.
    NotInFeed,
    /// The index named the message, but it was not there (yet) or the step's file is absent.
    NotThere,
    /// The message was there and could not be read.
    Damaged,
    /// The node lies outside the message's grid.
    OutsideGrid,
    /// The hour lies after the run's last step.
    BeyondRun,
    /// The run is older than the policy lets it be used.
    RunTooOld,
    /// Nothing of this source is kept.
    NoRun,
    /// Every node near the place is land.
    NoWater,
    /// The club lists no high water near the hour.
    NoHighWater,
}

impl Gap {
    /// The reason in words, as a skipper reads it.
    pub fn words(self) -> &'static str {
        match self {
            Self::Masked => "masked by the producer here",
            Self::NotInFeed => "not in the feed",
            Self::NotThere => "not published or not fetched",
            Self::Damaged => "damaged message",
            Self::OutsideGrid => "outside the model's area",
            Self::BeyondRun => "beyond the end of the run",
            Self::RunTooOld => "run too old",
            Self::NoRun => "no run at hand",
            Self::NoWater => "no water node near enough",
            Self::NoHighWater => "no high water listed near this hour",
        }
    }
}

/// A value as the message gives it, or why there is none.
pub type Sample = Result<f32, Gap>;

/// A grid node of one grid: its index in the order the message stores it, and where it lies.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Node {
    /// Column and row, counted from the first point of the message's own scanning order.
    pub column: u32,
    /// Row, counted likewise.
    pub row: u32,
    /// Where it lies.
    pub at: LatLon,
}

/// The values of one parameter at one node: members by steps, row by row (`member_index * steps + step_index`).
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FieldSeries {
    /// Which quantity.
    pub parameter: Parameter,
    /// One sample for each member and step.
    pub samples: Vec<Sample>,
}

/// All that a run says at one node.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct NodeSeries {
    /// The node.
    pub node: Node,
    /// One series for each parameter that the feed declares.
    pub fields: Vec<FieldSeries>,
}

/// How the values of an interval were made (WMO GRIB2 code table 4.10).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Process {
    /// 0: mean.
    Mean,
    /// 1: accumulation.
    Accumulation,
    /// 2: maximum.
    Maximum,
    /// 3: minimum.
    Minimum,
    /// Any other code.
    Other(u8),
}

/// The interval of a value that is not of one instant.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Interval {
    /// First instant of the interval.
    #[serde(with = "chrono::serde::ts_seconds")]
    pub start: DateTime<Utc>,
    /// Last instant of the interval: the step's valid time.
    #[serde(with = "chrono::serde::ts_seconds")]
    pub end: DateTime<Utc>,
    /// What was done over it.
    pub process: Process,
}

/// What became of a wanted message.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Outcome {
    /// Read; single nodes may still be masked.
    Read,
    /// Not read, for this reason, at every node.
    Missing(Gap),
}

/// Where the values of one parameter, member and step came from.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct MessageRecord {
    /// Which quantity.
    pub parameter: Parameter,
    /// Which member.
    pub member: Member,
    /// Which step.
    pub step: Step,
    /// Path of the file below the source's address, as the producer names it.
    pub file: String,
    /// First octet of the message in the file.
    pub offset: u64,
    /// Octets of the message.
    pub length: u64,
    /// The interval the values are for; none for an instant.
    pub interval: Option<Interval>,
    /// Read, or why not.
    pub outcome: Outcome,
}

/// What one run says at some nodes, with the messages it was read from. Also the form in which an advisory keeps its inputs.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct RunSlice {
    /// The feed.
    pub source: SourceId,
    /// The run's reference time.
    #[serde(with = "chrono::serde::ts_seconds")]
    pub reference: DateTime<Utc>,
    /// When the newest part used became visible here.
    #[serde(with = "chrono::serde::ts_seconds")]
    pub visible_at: DateTime<Utc>,
    /// Hash of the grid definition (section 3) the nodes are counted in.
    pub grid: String,
    /// The members, ascending.
    pub members: Vec<Member>,
    /// The steps, ascending.
    pub steps: Vec<Step>,
    /// The nodes with their values.
    pub nodes: Vec<NodeSeries>,
    /// Where each parameter, member and step came from.
    pub messages: Vec<MessageRecord>,
}

impl RunSlice {
    /// The instant a step is valid for.
    pub fn valid_time(&self, step: Step) -> DateTime<Utc> {
        self.reference + TimeDelta::hours(i64::from(step.0))
    }

    /// The record of one parameter, member and step, if the run has one.
    pub fn message(&self, parameter: Parameter, member: Member, step: Step) -> Option<&MessageRecord> {
        self.messages
            .iter()
            .find(|m| m.parameter == parameter && m.member == member && m.step == step)
    }
}

impl RunSlice {
    /// The part of a run that a span needs: the steps valid within it and one on either side, and step 0 where it holds the land mask.
    ///
    /// What step 0 says besides the mask is not kept (`Gap::NotThere`), so nobody interpolates from it across the cut.
    pub fn cut(&self, from: DateTime<Utc>, to: DateTime<Utc>) -> Self {
        let first = self
            .steps
            .iter()
            .rposition(|&step| self.valid_time(step) < from)
            .unwrap_or(0);
        let last = self
            .steps
            .iter()
            .position(|&step| self.valid_time(step) > to)
            .unwrap_or(self.steps.len());
        let holds_mask = first > 0 && self.has_land_mask(0);
        let kept: Vec<usize> = (0..self.steps.len())
            .filter(|&i| (first..=last).contains(&i) || (i == 0 && holds_mask))
            .collect();
        let steps: Vec<Step> = kept.iter().map(|&i| self.steps[i]).collect();
        let mask_step = holds_mask.then(|| self.steps[0]);
        let in_cut = |record: &&MessageRecord| {
            steps.contains(&record.step)
                && (Some(record.step) != mask_step || record.parameter == Parameter::LandShare)
        };
        Self {
            nodes: self
                .nodes
                .iter()
                .map(|node| self.cut_node(node, &kept, holds_mask))
                .collect(),
            messages: self.messages.iter().filter(in_cut).cloned().collect(),
            steps,
            source: self.source.clone(),
            grid: self.grid.clone(),
            members: self.members.clone(),
            ..*self
        }
    }

    /// Only the land mask, of the first step that holds it; none where no step does.
    pub fn land_mask_only(&self) -> Option<Self> {
        let at = (0..self.steps.len()).find(|&step| self.has_land_mask(step))?;
        let mut mask = Self {
            steps: vec![self.steps[at]],
            nodes: self
                .nodes
                .iter()
                .map(|node| self.cut_node(node, &[at], false))
                .collect(),
            messages: self.messages.clone(),
            source: self.source.clone(),
            grid: self.grid.clone(),
            members: self.members.clone(),
            ..*self
        };
        for node in &mut mask.nodes {
            node.fields
                .retain(|field| field.parameter == Parameter::LandShare);
        }
        mask.messages
            .retain(|record| record.parameter == Parameter::LandShare && record.step == self.steps[at]);
        Some(mask)
    }

    fn has_land_mask(&self, step_index: usize) -> bool {
        let known = |field: &FieldSeries| {
            field.parameter == Parameter::LandShare
                && field.samples.get(step_index).is_some_and(Result::is_ok)
        };
        self.nodes.iter().any(|node| node.fields.iter().any(known))
    }

    fn cut_node(&self, node: &NodeSeries, kept: &[usize], mask_only_at_0: bool) -> NodeSeries {
        let cut_field = |field: &FieldSeries| {
            let sample = |member: usize, step: usize| {
                if step == 0 && mask_only_at_0 && field.parameter != Parameter::LandShare {
                    return Err(Gap::NotThere);
                }
                field
                    .samples
                    .get(member * self.steps.len() + step)
                    .copied()
                    .unwrap_or(Err(Gap::NotThere))
            };
            let members = 0..self.members.len();
            let samples = members.flat_map(|member| kept.iter().map(move |&step| (member, step)));
            FieldSeries {
                parameter: field.parameter,
                samples: samples.map(|(member, step)| sample(member, step)).collect(),
            }
        };
        NodeSeries {
            node: node.node,
            fields: node.fields.iter().map(cut_field).collect(),
        }
    }
}
