//! Parts written and read back. No source: the rules are those of the project's architecture text ("What is kept, and
//! how"); the values are arithmetic on member and step, so that a mix-up of either shows.

#![expect(
    clippy::unwrap_used,
    reason = "a test helper that cannot go on fails its test"
)]

use chrono::{DateTime, TimeDelta, Utc};
use forecast::{
    FieldSeries, Gap, Member, MessageRecord, Node, NodeSeries, Outcome, Parameter, RunSlice, Sample,
    SourceId, Step,
};
use seaway::LatLon;
use store::{NewAdvisory, NewPart, Store, StoreError};

const MEMBERS: [u16; 3] = [0, 1, 7];

fn reference() -> DateTime<Utc> {
    "2030-05-13T00:00:00Z".parse().unwrap()
}

fn after(hours: i64) -> DateTime<Utc> {
    reference() + TimeDelta::hours(hours)
}

fn source() -> SourceId {
    SourceId::new("gefs")
}

fn home() -> LatLon {
    LatLon {
        lat: 43.5,
        lon: -15.5,
    }
}

fn value(parameter: Parameter, member: u16, step: u16, column: u32) -> f32 {
    parameter as u8 as f32 * 1e4 + f32::from(member) * 1e3 + f32::from(step) + column as f32 / 8.0
}

fn record(parameter: Parameter, member: u16, step: u16, outcome: Outcome) -> MessageRecord {
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

fn node(column: u32, at: LatLon, parameters: &[Parameter], steps: &[u16]) -> NodeSeries {
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

fn part(number: u16, steps: &[u16], parameters: &[Parameter]) -> NewPart {
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

fn sample(slice: &RunSlice, column: u32, parameter: Parameter, member: u16, step: u16) -> Sample {
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

async fn slice(store: &Store, as_of: i64, steps: Option<(u16, u16)>) -> RunSlice {
    let steps = steps.map(|(first, last)| (Step(first), Step(last)));
    store
        .read_slice(&source(), reference(), after(as_of), &[home()], steps)
        .await
        .unwrap()
        .unwrap()
}

#[tokio::test]
async fn parts_are_joined_and_only_near_nodes_come_back() {
    let store = Store::open_in_memory().await.unwrap();
    let both = [Parameter::WindU, Parameter::Gust];
    assert!(store.write_part(&part(0, &[0, 3, 6], &both)).await.unwrap());
    assert!(store.write_part(&part(1, &[9, 12], &both)).await.unwrap());
    let slice = slice(&store, 10, None).await;
    assert_eq!(slice.steps, [0, 3, 6, 9, 12].map(Step));
    assert_eq!(slice.members, MEMBERS.map(Member));
    assert_eq!(
        slice.nodes.iter().map(|n| n.node.column).collect::<Vec<_>>(),
        [1, 2]
    );
    assert_eq!((slice.grid.as_str(), slice.visible_at), ("grid-a", after(5)));
    for parameter in both {
        for (member, step) in [(0, 0), (1, 6), (7, 9), (7, 12), (0, 12)] {
            assert_eq!(
                sample(&slice, 2, parameter, member, step),
                Ok(value(parameter, member, step, 2))
            );
        }
    }
    assert_eq!(
        slice.message(Parameter::Gust, Member(7), Step(9)).unwrap().file,
        "m7.f009"
    );
}

#[tokio::test]
async fn a_second_write_of_a_part_changes_nothing() {
    let store = Store::open_in_memory().await.unwrap();
    let first = part(0, &[0, 3], &[Parameter::WindU]);
    assert!(store.write_part(&first).await.unwrap());
    let before = slice(&store, 10, None).await;
    let mut other = part(0, &[0, 3], &[Parameter::WindV]);
    other.visible_at = after(1);
    assert!(!store.write_part(&other).await.unwrap());
    assert_eq!(slice(&store, 10, None).await, before);
}

#[tokio::test]
async fn readers_see_only_what_was_visible_then() {
    let store = Store::open_in_memory().await.unwrap();
    for (number, steps) in [(0, [0, 3]), (1, [6, 9])] {
        store
            .write_part(&part(number, &steps, &[Parameter::WindU]))
            .await
            .unwrap();
    }
    assert!(
        store
            .read_slice(&source(), reference(), after(3), &[home()], None)
            .await
            .unwrap()
            .is_none()
    );
    assert_eq!(store.newest_run(&source(), after(3)).await.unwrap(), None);
    assert_eq!(slice(&store, 4, None).await.steps, [0, 3].map(Step));
    let run = store.newest_run(&source(), after(4)).await.unwrap().unwrap();
    assert_eq!(
        (run.parts, run.last_step, run.visible_at),
        (vec![0], Step(3), after(4))
    );
    let run = store.newest_run(&source(), after(5)).await.unwrap().unwrap();
    assert_eq!(
        (run.parts, run.last_step, run.complete),
        (vec![0, 1], Step(9), true)
    );
}

#[tokio::test]
async fn runs_come_newest_first() {
    let store = Store::open_in_memory().await.unwrap();
    store
        .write_part(&part(0, &[0, 3], &[Parameter::WindU]))
        .await
        .unwrap();
    let mut later = part(0, &[0, 3], &[Parameter::WindU]);
    (later.reference, later.complete) = (after(6), false);
    store.write_part(&later).await.unwrap();
    let runs = store.runs(&source(), after(20)).await.unwrap();
    assert_eq!(
        runs.iter().map(|r| (r.reference, r.complete)).collect::<Vec<_>>(),
        [(after(6), false), (after(0), true)]
    );
}

#[tokio::test]
async fn gaps_come_back_with_their_reasons() {
    let store = Store::open_in_memory().await.unwrap();
    let mut first = part(0, &[0, 3], &[Parameter::WindU, Parameter::Precipitation]);
    first.nodes[0].fields[0].samples[1] = Err(Gap::Masked);
    first
        .messages
        .iter_mut()
        .find(|m| m.member.0 == 7 && m.step.0 == 3)
        .unwrap()
        .outcome = Outcome::Missing(Gap::Damaged);
    first.nodes[0].fields[0].samples[5] = Err(Gap::Damaged);
    first.nodes.remove(1); // node 2 is in the later part only
    store.write_part(&first).await.unwrap();
    store
        .write_part(&part(1, &[6, 9], &[Parameter::WindU]))
        .await
        .unwrap();
    let slice = slice(&store, 10, None).await;
    assert_eq!(sample(&slice, 1, Parameter::WindU, 0, 3), Err(Gap::Masked));
    assert_eq!(sample(&slice, 1, Parameter::WindU, 7, 3), Err(Gap::Damaged));
    assert_eq!(
        sample(&slice, 2, Parameter::WindU, 7, 3),
        Err(Gap::Damaged),
        "the message's own reason"
    );
    assert_eq!(
        sample(&slice, 2, Parameter::WindU, 0, 0),
        Err(Gap::NotThere),
        "read, but not at this node"
    );
    assert_eq!(
        sample(&slice, 1, Parameter::Precipitation, 0, 6),
        Err(Gap::NotInFeed),
        "this part lacks it"
    );
    assert_eq!(
        sample(&slice, 1, Parameter::WindU, 1, 9),
        Ok(value(Parameter::WindU, 1, 9, 1))
    );
}

#[tokio::test]
async fn a_part_absent_between_others_is_a_gap_at_its_steps() {
    let store = Store::open_in_memory().await.unwrap();
    store
        .write_part(&part(0, &[0, 3, 6], &[Parameter::WindU]))
        .await
        .unwrap();
    store
        .write_part(&part(2, &[15, 18], &[Parameter::WindU]))
        .await
        .unwrap();
    let slice = slice(&store, 10, None).await;
    assert_eq!(slice.steps, [0, 3, 6, 9, 12, 15, 18].map(Step));
    assert_eq!(sample(&slice, 1, Parameter::WindU, 7, 9), Err(Gap::NotThere));
    assert_eq!(
        sample(&slice, 1, Parameter::WindU, 7, 15),
        Ok(value(Parameter::WindU, 7, 15, 1))
    );
}

#[tokio::test]
async fn a_range_of_steps_keeps_the_land_share_of_step_zero() {
    let store = Store::open_in_memory().await.unwrap();
    let mut first = part(0, &[0, 3], &[Parameter::WindU, Parameter::LandShare]);
    for node in &mut first.nodes {
        node.fields[1].samples.fill(Err(Gap::NotInFeed));
        node.fields[1].samples[0] = Ok(1.0);
    }
    first
        .messages
        .retain(|m| m.parameter != Parameter::LandShare || m.step.0 == 0);
    store.write_part(&first).await.unwrap();
    store
        .write_part(&part(1, &[6, 9, 12], &[Parameter::WindU]))
        .await
        .unwrap();
    let slice = slice(&store, 10, Some((9, 12))).await;
    assert_eq!(slice.steps, [9, 12].map(Step));
    assert_eq!(sample(&slice, 1, Parameter::LandShare, 7, 12), Ok(1.0));
    assert_eq!(
        sample(&slice, 1, Parameter::WindU, 7, 12),
        Ok(value(Parameter::WindU, 7, 12, 1))
    );
    assert!(
        slice
            .messages
            .iter()
            .all(|m| m.step.0 >= 9 || m.parameter == Parameter::LandShare)
    );
}

#[tokio::test]
async fn nodes_across_the_date_line_are_near() {
    let store = Store::open_in_memory().await.unwrap();
    let mut first = part(0, &[0], &[Parameter::WindU]);
    first.nodes[0].node.at = LatLon {
        lat: 0.0,
        lon: -179.75,
    };
    store.write_part(&first).await.unwrap();
    let place = LatLon { lat: 0.1, lon: 179.9 };
    let slice = store
        .read_slice(&source(), reference(), after(9), &[place], None)
        .await
        .unwrap()
        .unwrap();
    assert_eq!(slice.nodes.len(), 1);
}

#[tokio::test]
async fn a_part_that_contradicts_itself_is_refused_whole() {
    let store = Store::open_in_memory().await.unwrap();
    let mut bad = part(0, &[0, 3], &[Parameter::WindU]);
    bad.nodes[1].fields[0].samples.pop();
    let error = store.write_part(&bad).await.unwrap_err();
    assert!(
        matches!(error, StoreError::Refused { .. }) && error.to_string().contains("part 0"),
        "{error}"
    );
    assert_eq!(store.newest_run(&source(), after(99)).await.unwrap(), None);
}

#[tokio::test]
async fn pruning_a_run_keeps_advisories_and_other_runs() {
    let store = Store::open_in_memory().await.unwrap();
    store
        .write_part(&part(0, &[0], &[Parameter::WindU]))
        .await
        .unwrap();
    let mut later = part(0, &[0], &[Parameter::WindU]);
    later.reference = after(6);
    store.write_part(&later).await.unwrap();
    let advisory = NewAdvisory {
        id: "a1".into(),
        club: "demo".into(),
        occurrence: "day-one".into(),
        input_hash: "h".into(),
        inputs: vec![1],
        document: vec![2],
        issued_at: after(4),
    };
    store.put_advisory(&advisory).await.unwrap();
    store.prune_run(&source(), reference()).await.unwrap();
    assert!(
        store
            .read_slice(&source(), reference(), after(9), &[home()], None)
            .await
            .unwrap()
            .is_none()
    );
    assert_eq!(store.runs(&source(), after(20)).await.unwrap().len(), 1);
    assert_eq!(store.advisory("a1").await.unwrap().unwrap().advisory, advisory);
    assert!(
        store
            .write_part(&part(0, &[0], &[Parameter::WindU]))
            .await
            .unwrap(),
        "it may be fetched again"
    );
}

#[tokio::test]
async fn a_file_keeps_its_parts_and_opens_again() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("store.db");
    let path = path.to_str().unwrap();
    let store = Store::open(path).await.unwrap();
    store
        .write_part(&part(0, &[0, 3], &[Parameter::WindU]))
        .await
        .unwrap();
    let before = slice(&store, 9, None).await;
    store.close().await;
    let again = Store::open(path).await.unwrap();
    assert_eq!(slice(&again, 9, None).await, before);
}
