//! Vectors whose components follow a turned grid, turned to true east and north where both components of a part meet.
//!
//! Owns: what becomes of one component without the other. Must not know: how a grid lies; that it is turned, and by how much at
//! each node, its definition says.

use crate::assemble::PartBuilder;
use feeds::MissingMessage;
use forecast::{Gap, Member, Node, Outcome, Parameter, Sample, Step};
use grid::GridDefinition;

impl PartBuilder {
    /// Turns the vectors of every member and step to true north, where they follow a grid that does not. One component says
    /// nothing without the other: it is missing for the other's reason.
    pub fn turned_to_true_north(mut self) -> Self {
        let turning = self.grid.as_ref().and_then(|grid| {
            let definition = grid.turns_vectors.clone()?;
            Some((definition, grid.nodes.clone()))
        });
        if let Some((definition, nodes)) = turning {
            for member in self.members.clone() {
                for step in self.steps.clone() {
                    for vector in Parameter::VECTORS {
                        self.turn(&definition, &nodes, vector, (member, step));
                    }
                }
            }
        }
        self
    }

    fn turn(
        &mut self,
        grid: &GridDefinition,
        nodes: &[Node],
        vector: [Parameter; 2],
        (member, step): (Member, Step),
    ) {
        let slots = vector.map(|parameter| self.slot(parameter, member, step));
        let taken = slots.map(|slot| self.read.remove(&slot?));
        match (slots, taken) {
            ([Some(x_slot), Some(y_slot)], [Some(x), Some(y)]) => {
                let turned: (Vec<Sample>, Vec<Sample>) = (nodes.iter().zip(x).zip(y))
                    .map(|((node, x), y)| grid.true_components((node.column, node.row), x, y))
                    .map(|[east, north]| (east, north))
                    .unzip();
                self.read.insert(x_slot, turned.0);
                self.read.insert(y_slot, turned.1);
            }
            (_, [Some(_), None]) => self.lose_the_lone(vector, slots[1], (member, step)),
            (_, [None, Some(_)]) => self.lose_the_lone([vector[1], vector[0]], slots[0], (member, step)),
            _ => {}
        }
    }

    /// Takes back that a component was read whose other one is missing.
    fn lose_the_lone(
        &mut self,
        [lone, other]: [Parameter; 2],
        slot_of_other: Option<usize>,
        (member, step): (Member, Step),
    ) {
        let gap = slot_of_other.map_or(Gap::NotInFeed, |slot| self.reasons[slot]);
        self.set_reason(lone, member, step, gap);
        let of_lone = |record: &&mut forecast::MessageRecord| {
            (record.parameter, record.member, record.step) == (lone, member, step)
        };
        let Some(record) = self.messages.iter_mut().find(of_lone) else {
            return;
        };
        record.outcome = Outcome::Missing(gap);
        self.missing.push(MissingMessage {
            parameter: lone,
            member,
            step,
            file: record.file.clone(),
            gap,
            reason: format!(
                "it follows the grid, and without {other} it cannot be turned to true north ({other}: {})",
                gap.words()
            ),
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::assemble::{MessageValues, NodesOfGrid};
    use feeds::index::ByteRange;
    use feeds::{Expected, PartPlan, WantedMessage};
    use forecast::SourceId;
    use grid::Frame;

    /// Lambert, u and v along the grid: its x leaves true east by some 30 degrees everywhere.
    fn grid_of_fixture() -> GridDefinition {
        let file = "/../../fixtures/turned/lambert/2030051406.f003.grib2";
        let octets = std::fs::read([env!("CARGO_MANIFEST_DIR"), file].concat()).unwrap();
        let Some(Frame::Message(message)) = grid::split(&octets).into_iter().next() else {
            panic!("no message");
        };
        grid::read_fields(&message).unwrap()[0].grid.clone().unwrap()
    }

    fn wanted(parameter: Parameter, member: u16) -> WantedMessage {
        WantedMessage {
            parameter,
            member: Member(member),
            step: Step(3),
            file: "file".to_owned(),
            range: ByteRange::WHOLE_FILE,
            expected: Expected {
                codes: Vec::new(),
                surfaces: Vec::new(),
                level: None,
                reference: "2030-05-14T06:00:00Z".parse().unwrap(),
                valid: "2030-05-14T09:00:00Z".parse().unwrap(),
                interval: None,
                member: None,
            },
        }
    }

    /// The two nodes' samples of each parameter and member, as the finished part has them.
    type Values = Vec<(Parameter, u16, [Sample; 2])>;

    /// A part of two members at two nodes, and what is missing of it.
    fn finished(values: &Values, turns: bool) -> (Values, Vec<MissingMessage>) {
        let definition = grid_of_fixture();
        let grid = NodesOfGrid {
            hash: definition.hash(),
            nodes: vec![definition.node_at(2, 3), definition.node_at(9, 1)],
            turns_vectors: Some(definition).filter(|_| turns),
        };
        let mut builder = PartBuilder::new(PartPlan {
            members: vec![Member(0), Member(1)],
            steps: vec![Step(3)],
            wanted: values.iter().map(|of| wanted(of.0, of.1)).collect(),
            missing: Vec::new(),
        });
        for (parameter, member, samples) in values {
            let of_message = MessageValues {
                grid: grid.clone(),
                samples: samples.to_vec(),
                interval: None,
                length: 1,
            };
            builder.add(&wanted(*parameter, *member), of_message);
        }
        let reference = "2030-05-14T06:00:00Z".parse().unwrap();
        let whole = builder.turned_to_true_north();
        let (part, missing) = whole.finish(SourceId::new("of-a-test"), reference, 0, reference);
        let value = |node: usize, parameter, member: u16| {
            let mut fields = part.nodes[node].fields.iter();
            fields.find(|field| field.parameter == parameter).unwrap().samples[usize::from(member)]
        };
        let of = |&(parameter, member, _): &(Parameter, u16, _)| {
            (
                parameter,
                member,
                [0, 1].map(|node| value(node, parameter, member)),
            )
        };
        (values.iter().map(of).collect(), missing)
    }

    fn pair(member: u16, u: [Sample; 2], v: [Sample; 2]) -> Values {
        vec![(Parameter::WindU, member, u), (Parameter::WindV, member, v)]
    }

    // No source: what is not said to follow the grid is left as it is.
    #[test]
    fn true_components_are_left() {
        let values = pair(0, [Ok(3.0); 2], [Ok(4.0); 2]);
        assert_eq!(finished(&values, false), (values.clone(), Vec::new()));
        assert_ne!(finished(&values, true).0, values);
    }

    // No source: the project's rule that each member's wind is its own, and that missing is a value with a reason.
    #[test]
    fn a_member_without_one_component_loses_its_wind_and_no_other_does() {
        let mut values = [
            pair(0, [Ok(3.0); 2], [Ok(4.0), Err(Gap::Masked)]),
            pair(1, [Ok(3.0); 2], [Ok(4.0); 2]),
        ]
        .concat();
        values.truncate(3);
        values.push((Parameter::Gust, 1, [Ok(9.0); 2]));
        let (turned, missing) = finished(&values, true);
        // The other component of member 1 was never wanted.
        let lost = [Err(Gap::NotInFeed); 2];
        assert_eq!(turned[2], (Parameter::WindU, 1, lost));
        assert_eq!(turned[3], (Parameter::Gust, 1, [Ok(9.0); 2]));
        assert!(turned[0].2[0].is_ok() && turned[1].2[0].is_ok());
        assert_eq!([turned[0].2[1], turned[1].2[1]], [Err(Gap::Masked); 2]);
        let [lone] = missing.as_slice() else {
            panic!("{missing:?}");
        };
        assert_eq!(
            (lone.parameter, lone.member, lone.gap),
            (Parameter::WindU, Member(1), Gap::NotInFeed)
        );
        assert!(lone.reason.contains("without wind-v"), "{}", lone.reason);
    }

    // Source: flag table 3.3, bit 5: components of a stream of water follow the grid as those of a wind do.
    #[test]
    fn a_stream_is_turned_as_a_wind_is() {
        let of = |u, v| vec![(u, 0, [Ok(3.0); 2]), (v, 0, [Ok(4.0); 2])];
        let (wind, _) = finished(&of(Parameter::WindU, Parameter::WindV), true);
        let (stream, _) = finished(&of(Parameter::StreamU, Parameter::StreamV), true);
        let samples = |values: &Values| values.iter().map(|of| of.2).collect::<Vec<_>>();
        assert_eq!(samples(&wind), samples(&stream));
        assert_ne!(samples(&wind), [[Ok(3.0); 2], [Ok(4.0); 2]]);
    }
}
