//! `/v1/clubs/{club}/conditions` and the windows of a run, over a run of one wind everywhere, written as a fetcher writes it.
//!
//! Sources: OGC 21-069r2 (CoverageJSON: what a collection of point series must have), RFC 3339 (moments). That a constant field
//! is constant between its nodes is so by definition of linear interpolation; 10 m/s is 19.44 kn.

use crate::described::is_described;
use crate::shelf::{OURS, get, get_with, is_problem, is_wrong_field, morning, with_samples};
use chrono::{DateTime, DurationRound, TimeDelta, Utc};
use forecast::{
    FieldSeries, Gap, Member, MessageRecord, Node, NodeSeries, Outcome, Parameter, SourceId, Step,
};
use seaway::LatLon;
use serde_json::Value;
use store::{NewPart, Store};

const PATH: &str = "/v1/clubs/{club}/conditions";
/// The step at which one gust is missing.
const LOST: u16 = 12;

fn reference() -> DateTime<Utc> {
    morning().duration_trunc(TimeDelta::hours(6)).unwrap() - TimeDelta::hours(6)
}

/// Three days of GFS by three hours: wind from the west, its gust, and one gust of a message that was damaged.
async fn keep_run(store: &Store, east_m_s: f32) {
    let steps: Vec<Step> = (0..=72).step_by(3).map(Step).collect();
    let field = |(parameter, value): (Parameter, f32)| FieldSeries {
        parameter,
        samples: steps
            .iter()
            .map(|step| match (parameter, step.0) {
                (Parameter::Gust, LOST) => Err(Gap::Damaged),
                _ => Ok(value),
            })
            .collect(),
    };
    let fields = [
        (Parameter::WindU, east_m_s),
        (Parameter::WindV, 0.0),
        (Parameter::Gust, 1.3 * east_m_s),
    ];
    let nodes = (0..25).map(|place| NodeSeries {
        node: Node {
            column: place % 5,
            row: place / 5,
            at: LatLon::new(
                43.0 + 0.25 * f64::from(place / 5),
                -16.0 + 0.25 * f64::from(place % 5),
            )
            .unwrap(),
        },
        fields: fields.map(field).to_vec(),
    });
    let record = |parameter, step: Step| MessageRecord {
        parameter,
        member: Member(0),
        step,
        file: "f".into(),
        offset: 0,
        length: 1,
        interval: None,
        outcome: match (parameter, step.0) {
            (Parameter::Gust, LOST) => Outcome::Missing(Gap::Damaged),
            _ => Outcome::Read,
        },
    };
    let part = NewPart {
        source: SourceId::new("gfs"),
        reference: reference(),
        part: 0,
        grid: "grid".into(),
        members: vec![Member(0)],
        nodes: nodes.collect(),
        messages: fields
            .iter()
            .flat_map(|(parameter, _)| steps.iter().map(|step| record(*parameter, *step)))
            .collect(),
        steps: steps.clone(),
        complete: true,
        visible_at: reference() + TimeDelta::hours(4),
    };
    assert!(store.write_part(&part).await.unwrap());
}

async fn with_run(east_m_s: f32) -> Store {
    let store = with_samples().await;
    keep_run(&store, east_m_s).await;
    store
}

fn series<'a>(point: &'a Value, quantity: &str) -> &'a Value {
    let all = point["quantities"].as_array().unwrap();
    all.iter().find(|one| one["quantity"] == quantity).unwrap()
}

#[tokio::test]
async fn values_come_with_unit_run_nodes_and_why_one_is_missing() {
    let store = with_run(10.0).await;
    let answer = get(&store, &format!("{OURS}/conditions?source=gfs")).await;
    is_described("get", PATH, &answer).await;
    assert_eq!(answer.header("cache-control"), "no-cache");
    let told = answer.json();
    let point = &told["points"][0];
    assert_eq!(
        point["run"],
        reference().to_rfc3339_opts(chrono::SecondsFormat::Secs, true)
    );
    assert!(point["attribution"].as_str().unwrap().contains("GFS"));
    assert!(point["nodes"][0].as_str().unwrap().ends_with("nm)"));
    let times = point["times"].as_array().unwrap();
    // From 48 hours from now on, each third hour, with the club's offset (Europe/London in October: +01:00).
    assert_eq!(times.len(), 16);
    assert!(
        times
            .iter()
            .all(|time| time.as_str().unwrap().ends_with("+01:00"))
    );
    let wind = series(point, "wind-u");
    assert_eq!(wind["unit"], "m/s");
    let values = wind["members"][0]["values"].as_array().unwrap();
    assert!(values.iter().all(|value| *value == 10.0), "{values:?}");
    let whole = format!(
        "{OURS}/conditions?source=gfs&from={}",
        reference().to_rfc3339_opts(chrono::SecondsFormat::Secs, true)
    );
    let gust = get(&store, &whole).await.json();
    let gust = &series(&gust["points"][0], "gust")["members"][0];
    let lost = usize::from(LOST / 3);
    assert_eq!(
        (gust["values"][lost].clone(), gust["values"][lost + 1].clone()),
        (Value::Null, 13.0.into())
    );
    assert_eq!(gust["missing"][0]["why"], Gap::Damaged.words());
}

#[tokio::test]
async fn sources_of_which_nothing_is_kept_are_named() {
    let store = with_run(10.0).await;
    let told = get(&store, &format!("{OURS}/conditions")).await.json();
    let nothing: Vec<&str> = told["nothing_kept_of"]
        .as_array()
        .unwrap()
        .iter()
        .map(|name| name.as_str().unwrap())
        .collect();
    assert!(
        nothing.contains(&"gefs") && !nothing.contains(&"gfs"),
        "{nothing:?}"
    );
    let none = get(&with_samples().await, &format!("{OURS}/conditions"))
        .await
        .json();
    assert_eq!(none["points"].as_array().map(Vec::len), Some(0));
}

#[tokio::test]
async fn as_coverage_json_it_is_a_collection_of_point_series() {
    let store = with_run(10.0).await;
    let path = format!("{OURS}/conditions?source=gfs");
    let answer = get_with(&store, &path, &[("accept", "application/prs.coverage+json")]).await;
    assert_eq!(answer.header("content-type"), "application/prs.coverage+json");
    assert_eq!(answer.header("vary"), "Accept");
    is_described("get", PATH, &answer).await;
    let linked = get(&store, &format!("{path}&format=coverage-json")).await;
    assert_eq!(linked.text(), answer.text());
    let told = answer.json();
    assert_eq!(
        (&told["type"], &told["domainType"]),
        (&"CoverageCollection".into(), &"PointSeries".into())
    );
    assert_eq!(told["referencing"][0]["system"]["type"], "GeographicCRS");
    assert_eq!(told["referencing"][1]["system"]["calendar"], "Gregorian");
    assert_eq!(told["parameters"]["gust"]["unit"]["symbol"]["value"], "m/s");
    let coverages = told["coverages"].as_array().unwrap();
    assert_eq!(coverages.len(), 1);
    let axes = &coverages[0]["domain"]["axes"];
    assert_eq!(
        (
            axes["x"]["values"].as_array().map(Vec::len),
            axes["y"]["values"].as_array().map(Vec::len)
        ),
        (Some(1), Some(1))
    );
    let times = axes["t"]["values"].as_array().unwrap();
    assert!(
        times.windows(2).all(|pair| pair[0].as_str() < pair[1].as_str()),
        "times rise"
    );
    let ranges = coverages[0]["ranges"].as_object().unwrap();
    for (name, range) in ranges {
        assert!(told["parameters"].get(name).is_some(), "{name} is described");
        assert_eq!(range["shape"], serde_json::json!([times.len()]), "{name}");
        assert_eq!(range["axisNames"], serde_json::json!(["t"]));
        assert_eq!(range["values"].as_array().map(Vec::len), Some(times.len()));
    }
    assert!(
        ranges["wind-u"]["values"]
            .as_array()
            .unwrap()
            .iter()
            .all(|value| *value == 10.0)
    );
    let neither = get_with(&store, &path, &[("accept", "text/html")]).await;
    is_problem(&neither, 406);
}

#[tokio::test]
async fn what_is_wrong_in_the_question_is_named() {
    let store = with_run(10.0).await;
    for (query, field) in [
        ("venue=nowhere", "venue"),
        ("source=gsf", "source"),
        ("from=tomorrow", "from"),
        ("from=2026-10-17", "from"),
        ("from=2026-10-17T10:00:00Z&to=2026-10-17T09:59:59Z", "to"),
        ("from=2026-10-01T00:00:00Z&to=2026-10-17T00:00:01Z", "to"),
        ("to=%2B262142-12-31T23:59:59Z", "to"),
        ("format=xml", "format"),
        ("point=1", "point"),
    ] {
        is_wrong_field(&get(&store, &format!("{OURS}/conditions?{query}")).await, field);
    }
}

#[tokio::test]
async fn windows_are_found_in_a_run_and_none_in_a_gale() {
    // 4 m/s is 7.8 kn: nobody's limits. 25 m/s is 48.6 kn: past every table.
    let kind = get(&with_run(4.0).await, &format!("{OURS}/windows?length=2")).await;
    is_described("get", "/v1/clubs/{club}/windows", &kind).await;
    let kind = kind.json();
    assert_eq!(kind["no_data"], Value::Null);
    let windows = kind["windows"].as_array().unwrap();
    assert!(!windows.is_empty(), "{kind}");
    for window in windows {
        let time = |key: &str| DateTime::parse_from_rfc3339(window[key].as_str().unwrap()).unwrap();
        assert!(time("to") - time("from") >= TimeDelta::hours(2), "{window}");
        assert!(time("from").to_utc() >= morning(), "{window}");
    }
    let gale = get(&with_run(25.0).await, &format!("{OURS}/windows?length=2"))
        .await
        .json();
    assert_eq!(
        (gale["windows"].as_array().map(Vec::len), &gale["no_data"]),
        (Some(0), &Value::Null)
    );
}
