//! What an advisory with 51 members costs when nothing is kept: making it, issuing it from SQLite, and answering it.
//!
//! Prints tables; decides nothing. Pin it to one core: `taskset -c 0 cargo bench -p api --bench uncached`; `-- 100` has a hundred clubs in
//! place of three hundred. Each advisory is of a club of its own, so that nothing of an earlier one can be used, and so the same
//! work tells how the time grows with clubs on one store; the session lasts four hours, at a venue of two points with
//! stream, fetch, sea breeze, sectors and an entrance with limits of its own, with a level that has all limits (the rich club).

#![expect(
    clippy::print_stdout,
    clippy::unwrap_used,
    reason = "a benchmark's output is its work, and it may fail by panicking"
)]

use advisory::{Assembled, to_bytes};
use api::{ApiState, Serving, router};
use axum::body::{Body, to_bytes as body_bytes};
use axum::http::Request;
use chrono::{DateTime, TimeDelta, Utc};
use club::{Club, Occurrence};
use feeds::Catalogue;
use forecast::{
    FieldSeries, Interval, Member, MessageRecord, Node, NodeSeries, Outcome, Parameter, Process, SourceId,
    Step,
};
use seaway::LatLon;
use std::sync::Arc;
use std::time::{Duration, Instant};
use store::{NewPart, Store};
use tower::ServiceExt;

const RICH: &str = include_str!("../../../fixtures/club/rich.toml");
const MEMBERS: u16 = 51;
/// So many that the ninety-ninth of a hundred is not the worst, unless fewer are asked for.
const CLUBS: usize = 300;
const NOON: &str = "2030-05-13T12:00:00Z";

fn noon() -> DateTime<Utc> {
    NOON.parse().unwrap()
}

/// A tenth to nine tenths, the same at every run.
fn wobble(seed: usize) -> f64 {
    let mixed = (seed as u64).wrapping_mul(0x9E37_79B9_7F4A_7C15) >> 40;
    0.1 + 0.8 * (mixed as f64 / (1u64 << 24) as f64)
}

/// A value that differs by member and step, within what is usual for the quantity.
fn value(parameter: Parameter, member: usize, step: usize) -> f32 {
    let share = wobble(7 * member + 1000 * step + 31 * parameter as usize);
    let (least, most) = match parameter {
        Parameter::WindU | Parameter::WindV => (1.0, 7.0),
        Parameter::Gust => (6.0, 13.0),
        Parameter::Pressure => (100_000.0, 102_000.0),
        Parameter::AirTemperature | Parameter::DewPoint | Parameter::SurfaceTemperature => (283.0, 291.0),
        Parameter::Visibility => (3_000.0, 24_000.0),
        Parameter::Cape => (0.0, 600.0),
        Parameter::WavePeriod => (4.0, 8.0),
        Parameter::WaveDirection => (200.0, 280.0),
        _ => (0.0, 1.0),
    };
    (least + (most - least) * share) as f32
}

/// A whole run of three days by three hours, at the 25 nodes around the club's waters.
fn run(source: &str, members: u16, parameters: &[Parameter]) -> NewPart {
    let reference = noon() - TimeDelta::hours(12);
    let steps: Vec<Step> = (0..=72).step_by(3).map(Step).collect();
    let members: Vec<Member> = (0..members).map(Member).collect();
    let field = |&parameter: &Parameter| FieldSeries {
        parameter,
        samples: (0..members.len())
            .flat_map(|member| (0..steps.len()).map(move |step| Ok(value(parameter, member, step))))
            .collect(),
    };
    let nodes = (0..25).map(|place| {
        let (row, column) = (place / 5, place % 5);
        NodeSeries {
            node: Node {
                column,
                row,
                at: LatLon::new(43.0 + 0.25 * f64::from(row), -16.0 + 0.25 * f64::from(column)).unwrap(),
            },
            fields: parameters.iter().map(field).collect(),
        }
    });
    let record = |parameter, member, step: Step| MessageRecord {
        parameter,
        member,
        step,
        file: "f".into(),
        offset: 0,
        length: 1,
        interval: (parameter == Parameter::Gust && source == "ecmwf-ens" && step.0 > 0).then(|| Interval {
            start: reference + TimeDelta::hours(i64::from(step.0) - 3),
            end: reference + TimeDelta::hours(i64::from(step.0)),
            process: Process::Maximum,
        }),
        outcome: Outcome::Read,
    };
    let messages = parameters.iter().flat_map(|&parameter| {
        let steps = &steps;
        members
            .iter()
            .flat_map(move |&member| steps.iter().map(move |&step| record(parameter, member, step)))
    });
    NewPart {
        source: SourceId::new(source),
        reference,
        part: 0,
        grid: "grid".into(),
        nodes: nodes.collect(),
        messages: messages.collect(),
        members: members.clone(),
        steps: steps.clone(),
        complete: true,
        visible_at: noon() - TimeDelta::hours(4),
    }
}

async fn shelf(folder: &std::path::Path) -> Store {
    let store = Store::open(&folder.join("bench.db").display().to_string())
        .await
        .unwrap();
    let wind = [Parameter::WindU, Parameter::WindV, Parameter::Gust];
    let weather = [
        Parameter::Pressure,
        Parameter::AirTemperature,
        Parameter::DewPoint,
        Parameter::Visibility,
        Parameter::Cape,
        Parameter::SurfaceTemperature,
    ];
    let waves = [
        Parameter::WaveHeight,
        Parameter::WavePeriod,
        Parameter::WaveDirection,
    ];
    for part in [
        run("ecmwf-ens", MEMBERS, &wind),
        run("gfs", 1, &[wind.as_slice(), &weather].concat()),
        run("gfs-wave", 1, &waves),
    ] {
        assert!(store.write_part(&part).await.unwrap());
    }
    store
}

/// The rich club under one more name, its wind from the 51 members, with its session of Wednesday morning.
fn club(number: usize) -> (Arc<Club>, String, Occurrence) {
    let text = RICH
        .replace(
            "slug = \"quarrenmere\"",
            &format!("slug = \"quarrenmere-{number}\""),
        )
        .replace(
            "wind_sources = [\"gefs\", \"gfs\"]",
            "wind_sources = [\"ecmwf-ens\", \"gfs\"]",
        );
    let club = club::parse(&text).unwrap().club;
    let coming = club::occurrences(&club, noon(), noon() + TimeDelta::days(3));
    let wanted = |one: &Occurrence| club.sessions[one.session].id == "watchkeepers-wednesday";
    let occurrence = coming.into_iter().find(wanted).unwrap();
    (Arc::new(club), text, occurrence)
}

fn told(what: &str, mut took: Vec<Duration>) {
    took.sort();
    let ms = |share: f64| took[((took.len() - 1) as f64 * share) as usize].as_secs_f64() * 1000.0;
    println!("| {what} | {:.2} | {:.2} | {:.2} |", ms(0.5), ms(0.99), ms(1.0));
}

/// Time a club over the first of them, as the store fills.
fn told_growth(took: &[Duration]) {
    println!(
        "\n| clubs advised on, one store | s | ms a club | of the first row's |\n| --- | --- | --- | --- |"
    );
    let mut first = None;
    for clubs in [10, 30, 100, 300]
        .into_iter()
        .filter(|&clubs| clubs <= took.len())
    {
        let seconds: f64 = took[..clubs].iter().map(Duration::as_secs_f64).sum();
        let each = 1000.0 * seconds / clubs as f64;
        let share = each / *first.get_or_insert(each);
        println!("| {clubs} | {seconds:.2} | {each:.1} | {share:.2} |");
    }
}

/// How many clubs are asked for on the command line.
fn asked() -> usize {
    let number = std::env::args().find_map(|word| word.parse().ok());
    number.unwrap_or(CLUBS)
}

#[tokio::main(flavor = "current_thread")]
async fn main() {
    let folder = tempfile::tempdir().unwrap();
    let store = shelf(folder.path()).await;
    let catalogue = Arc::new(Catalogue::embedded().unwrap());
    let clubs: Vec<_> = (0..asked()).map(club).collect();
    let times = clubs.len();
    println!(
        "| an advisory with {MEMBERS} members, {times} times | p50 ms | p99 ms | worst ms |\n| --- | --- | --- | --- |"
    );

    let (first, _, occurrence) = &clubs[0];
    let venue = &first.venues[first.sessions[occurrence.session].venue];
    let slices = advisor::slices_for(&store, &catalogue, first, venue, noon())
        .await
        .unwrap();
    let made = (0..times).map(|_| {
        let began = Instant::now();
        let inputs = advisor::gather(&catalogue, first, occurrence, &slices, noon());
        let advisory = Assembled::of(&inputs, first, noon())
            .unwrap()
            .make(&inputs)
            .unwrap();
        assert_eq!(advisory.sureness.members, MEMBERS);
        std::hint::black_box(to_bytes(&advisory).unwrap());
        began.elapsed()
    });
    told("made from values in memory", made.collect());

    let mut took = Vec::new();
    for (club, text, occurrence) in &clubs {
        let began = Instant::now();
        let only = std::slice::from_ref(occurrence);
        let round = advisor::issue(&store, &catalogue, club, text, only, noon())
            .await
            .unwrap();
        took.push(began.elapsed());
        assert!(round.failed.is_empty() && round.issued[0].new);
    }
    let filling = took.clone();
    told("values read from SQLite, made, stored", took);

    let serving = Serving {
        answers_kept_for: Duration::ZERO,
        ..Serving::default()
    };
    let state = ApiState::new(store, "quarrenmere-0", noon, None, catalogue, serving);
    let routes = router(state);
    for media in ["application/json", "text/html", "text/plain", "text/calendar"] {
        let mut took = Vec::new();
        for (club, _, occurrence) in &clubs {
            let path = format!("/v1/clubs/{}/sessions/{}/advisory", club.slug, occurrence.id);
            let request = Request::get(path)
                .header("accept", media)
                .body(Body::empty())
                .unwrap();
            let began = Instant::now();
            let response = routes.clone().oneshot(request).await.unwrap();
            assert_eq!(response.status(), 200);
            std::hint::black_box(body_bytes(response.into_body(), 1 << 22).await.unwrap());
            took.push(began.elapsed());
        }
        told(&format!("answered as {media}, nothing kept"), took);
    }
    told_growth(&filling);
}
