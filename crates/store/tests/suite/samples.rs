//! Invented parts: the values are arithmetic on parameter, member, step and node, so that a mix-up of any shows.

use chrono::{DateTime, TimeDelta, Utc};
use forecast::{
    FieldSeries, Member, MessageRecord, Node, NodeSeries, Outcome, Parameter, RunSlice, Sample, SourceId,
    Step,
};
use seaway::LatLon;
use store::{NewAdvisory, NewPart, Store};

pub const MEMBERS: [u16; 3] = [0, 1, 7];

pub fn reference() -> DateTime<Utc> {
    "2030-05-13T00:00:00Z".parse().unwrap()
}

pub fn after(hours: i64) -> DateTime<Utc> {
    reference() + TimeDelta::hours(hours)
}

pub fn source() -> SourceId {
    SourceId::new("gefs")
}

pub fn home() -> LatLon {
    LatLon {
        lat: 43.5,
        lon: -15.5,
    }
}

pub fn value(parameter: Parameter, member: u16, step: u16, column: u32) -> f32 {
    parameter as u8 as f32 * 1e4 + f32::from(member) * 1e3 + f32::from(step) + column as f32 / 8.0
}

pub fn record(parameter: Parameter, member: u16, step: u16, outcome: Outcome) -> MessageRecord {
    let file = format!("m{member}.f{step:03}");
    MessageRecord {
        parameter,
        member: Member(member),
        step: Step(step),
        file,
        offset: 5,
        length: 9,
        interval: None,
        outcome,
    }
}

pub fn node(column: u32, at: LatLon, parameters: &[Parameter], steps: &[u16]) -> NodeSeries {
    let samples = |parameter| {
        MEMBERS
            .iter()
            .flat_map(|m| steps.iter().map(move |s| Ok(value(parameter, *m, *s, column))))
            .collect()
    };
    let fields = parameters
        .iter()
        .map(|p| FieldSeries {
            parameter: *p,
            samples: samples(*p),
        })
        .collect();
    NodeSeries {
        node: Node { column, row: 4, at },
        fields,
    }
}

pub fn part(number: u16, steps: &[u16], parameters: &[Parameter]) -> NewPart {
    let messages = parameters
        .iter()
        .flat_map(|p| {
            MEMBERS
                .iter()
                .flat_map(move |m| steps.iter().map(move |s| record(*p, *m, *s, Outcome::Read)))
        })
        .collect();
    NewPart {
        source: source(),
        reference: reference(),
        part: number,
        grid: "grid-a".into(),
        members: MEMBERS.map(Member).to_vec(),
        steps: steps.iter().map(|s| Step(*s)).collect(),
        nodes: vec![
            node(1, home(), parameters, steps),
            node(
                2,
                LatLon {
                    lat: 43.5,
                    lon: -15.25,
                },
                parameters,
                steps,
            ),
            node(30, LatLon { lat: 43.5, lon: -8.0 }, parameters, steps),
        ],
        messages,
        complete: true,
        visible_at: after(4 + i64::from(number)),
    }
}

pub fn sample(slice: &RunSlice, column: u32, parameter: Parameter, member: u16, step: u16) -> Sample {
    let node = slice
        .nodes
        .iter()
        .find(|node| node.node.column == column)
        .unwrap();
    let field = node
        .fields
        .iter()
        .find(|field| field.parameter == parameter)
        .unwrap();
    let member = slice.members.iter().position(|m| m.0 == member).unwrap();
    let step = slice.steps.iter().position(|s| s.0 == step).unwrap();
    field.samples[member * slice.steps.len() + step]
}

pub async fn slice(store: &Store, as_of: i64, steps: Option<(u16, u16)>) -> RunSlice {
    let steps = steps.map(|(first, last)| (Step(first), Step(last)));
    store
        .read_slice(&source(), reference(), after(as_of), &[home()], steps)
        .await
        .unwrap()
        .unwrap()
}

/// The one part of a run that began so many hours after [`reference`].
pub fn part_of_run(source: &str, hours: i64) -> NewPart {
    NewPart {
        source: SourceId::new(source),
        reference: after(hours),
        visible_at: after(hours + 4),
        ..part(0, &[0, 3], &[Parameter::WindU])
    }
}

/// An advisory of the session "day-one" of the club "demo".
pub fn advisory(id: &str, hash: &str) -> NewAdvisory {
    NewAdvisory {
        id: id.into(),
        club: "demo".into(),
        occurrence: "day-one".into(),
        input_hash: hash.into(),
        inputs: vec![0, 1, 2],
        document: b"{}".to_vec(),
        issued_at: after(4),
    }
}
