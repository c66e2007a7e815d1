//! From decoded messages to a part: every wanted value in its slot, or the reason it is missing.
//!
//! Owns: the shape of a part and the rule that one broken message loses only itself. Must not know: files, processes.

use chrono::{DateTime, Utc};
use feeds::{MissingMessage, PartPlan, WantedMessage};
use forecast::{
    FieldSeries, Gap, Interval, Member, MessageRecord, Node, NodeSeries, Outcome, Parameter, Sample,
    SourceId, Step,
};
use grid::GridDefinition;
use std::collections::{BTreeMap, BTreeSet};
use store::NewPart;

/// The values of one message at the nodes near the places.
#[derive(Clone, Debug, PartialEq)]
pub struct MessageValues {
    /// Where they lie.
    pub grid: NodesOfGrid,
    /// One sample for each node.
    pub samples: Vec<Sample>,
    /// The message's interval.
    pub interval: Option<Interval>,
    /// Octets of the message.
    pub length: u64,
}

/// Nodes of one grid.
#[derive(Clone, Debug, PartialEq)]
pub struct NodesOfGrid {
    /// Hash of the grid definition.
    pub hash: String,
    /// The nodes, in the decoder's order, which is the same for every message on the same grid.
    pub nodes: Vec<Node>,
    /// The definition, where the components of vectors follow the grid and have to be turned to true north.
    pub turns_vectors: Option<GridDefinition>,
}

/// A part being filled.
pub struct PartBuilder {
    pub(crate) members: Vec<Member>,
    pub(crate) steps: Vec<Step>,
    parameters: Vec<Parameter>,
    /// Why each value is missing, as long as nothing was read: parameters by members by steps.
    pub(crate) reasons: Vec<Gap>,
    /// The grid and nodes of the first message read; every other message must lie on the same.
    pub(crate) grid: Option<NodesOfGrid>,
    /// The samples of each message read, by slot.
    pub(crate) read: BTreeMap<usize, Vec<Sample>>,
    pub(crate) messages: Vec<MessageRecord>,
    /// What is missing, in words.
    pub(crate) missing: Vec<MissingMessage>,
}

impl PartBuilder {
    /// An empty part: what the plan already misses has its reason, what it does not ask for is not in the feed.
    pub fn new(plan: PartPlan) -> Self {
        let wanted = plan.wanted.iter().map(|message| message.parameter);
        let parameters: BTreeSet<Parameter> = wanted
            .chain(plan.missing.iter().map(|message| message.parameter))
            .collect();
        let slots = parameters.len() * plan.members.len() * plan.steps.len();
        let mut builder = Self {
            members: plan.members,
            steps: plan.steps,
            parameters: parameters.into_iter().collect(),
            reasons: vec![Gap::NotInFeed; slots],
            grid: None,
            read: BTreeMap::new(),
            messages: Vec::with_capacity(plan.wanted.len() + plan.missing.len()),
            missing: Vec::new(),
        };
        for missing in plan.missing {
            builder.set_reason(missing.parameter, missing.member, missing.step, missing.gap);
            builder.messages.push(record(&missing));
            builder.missing.push(missing);
        }
        builder
    }

    /// Takes the values of a wanted message.
    pub fn add(&mut self, wanted: &WantedMessage, values: MessageValues) {
        let grid = self.grid.get_or_insert_with(|| values.grid.clone());
        if *grid != values.grid {
            return self.lose(
                wanted,
                Gap::Damaged,
                "it lies on another grid than the part's first message".into(),
            );
        }
        if values.samples.len() != grid.nodes.len() {
            return self.lose(
                wanted,
                Gap::Damaged,
                "the decoder answered for other nodes than asked".into(),
            );
        }
        let Some(slot) = self.slot(wanted.parameter, wanted.member, wanted.step) else {
            return;
        };
        self.read.insert(slot, values.samples);
        self.messages.push(MessageRecord {
            parameter: wanted.parameter,
            member: wanted.member,
            step: wanted.step,
            file: wanted.file.clone(),
            offset: wanted.range.first,
            length: values.length,
            interval: values.interval,
            outcome: Outcome::Read,
        });
    }

    /// Notes that a wanted message could not be read.
    pub fn lose(&mut self, wanted: &WantedMessage, gap: Gap, reason: String) {
        self.set_reason(wanted.parameter, wanted.member, wanted.step, gap);
        let missing = MissingMessage {
            parameter: wanted.parameter,
            member: wanted.member,
            step: wanted.step,
            file: wanted.file.clone(),
            gap,
            reason,
        };
        // The index's own figure; 0 where it gives none.
        let length = wanted.range.length().unwrap_or(0);
        self.messages.push(MessageRecord {
            offset: wanted.range.first,
            length,
            ..record(&missing)
        });
        self.missing.push(missing);
    }

    /// What is missing so far.
    pub fn missing(&self) -> &[MissingMessage] {
        &self.missing
    }

    /// How many wanted messages were read.
    pub fn messages_read(&self) -> usize {
        self.read.len()
    }

    /// The finished part, and what it misses in words.
    pub fn finish(
        mut self,
        source: SourceId,
        reference: DateTime<Utc>,
        part: u16,
        visible_at: DateTime<Utc>,
    ) -> (NewPart, Vec<MissingMessage>) {
        let nodes = self.node_series();
        self.messages
            .sort_by_key(|message| (message.parameter, message.member, message.step));
        let part = NewPart {
            source,
            reference,
            part,
            grid: self.grid.map_or(String::new(), |grid| grid.hash),
            members: self.members,
            steps: self.steps,
            nodes,
            messages: self.messages,
            complete: self.missing.is_empty(),
            visible_at,
        };
        (part, self.missing)
    }

    fn node_series(&self) -> Vec<NodeSeries> {
        let Some(grid) = &self.grid else {
            return Vec::new();
        };
        let per_field = (self.members.len() * self.steps.len()).max(1);
        let series = grid.nodes.iter().enumerate().map(|(node_index, node)| {
            let mut samples: Vec<Sample> = self.reasons.iter().map(|gap| Err(*gap)).collect();
            for (slot, read) in &self.read {
                samples[*slot] = read[node_index];
            }
            let fields = self.parameters.iter().zip(samples.chunks(per_field));
            let fields = fields.map(|(parameter, samples)| FieldSeries {
                parameter: *parameter,
                samples: samples.to_vec(),
            });
            NodeSeries {
                node: *node,
                fields: fields.collect(),
            }
        });
        series.collect()
    }

    pub(crate) fn set_reason(&mut self, parameter: Parameter, member: Member, step: Step, gap: Gap) {
        if let Some(slot) = self.slot(parameter, member, step) {
            self.reasons[slot] = gap;
        }
    }

    pub(crate) fn slot(&self, parameter: Parameter, member: Member, step: Step) -> Option<usize> {
        let parameter = self.parameters.binary_search(&parameter).ok()?;
        let member = self.members.binary_search(&member).ok()?;
        let step = self.steps.binary_search(&step).ok()?;
        Some((parameter * self.members.len() + member) * self.steps.len() + step)
    }
}

fn record(missing: &MissingMessage) -> MessageRecord {
    MessageRecord {
        parameter: missing.parameter,
        member: missing.member,
        step: missing.step,
        file: missing.file.clone(),
        offset: 0,
        length: 0,
        interval: None,
        outcome: Outcome::Missing(missing.gap),
    }
}
