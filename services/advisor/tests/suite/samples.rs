//! A club of invented names, and runs of one wind everywhere and always, written as a fetcher writes them.

use chrono::{DateTime, TimeDelta, Utc};
use club::{Club, Occurrence};
use feeds::Catalogue;
use forecast::{FieldSeries, Member, MessageRecord, Node, NodeSeries, Outcome, Parameter, SourceId, Step};
use seaway::LatLon;
use std::sync::Arc;
use store::{NewPart, Store};

const SMALL: &str = include_str!("../../../../fixtures/club/small.toml");
const METRES_PER_SECOND_IN_A_KNOT: f64 = 1852.0 / 3600.0;

/// A time of May 2030, by day, hour and minute, UTC.
pub fn may(day: u32, hour: u32, minute: u32) -> DateTime<Utc> {
    format!("2030-05-{day:02}T{hour:02}:{minute:02}:00Z")
        .parse()
        .unwrap()
}

/// The small club on the single run, under a short name of its own. Its Tuesday session is on 14 May, 09:00 to 12:00 UTC.
pub fn text(slug: &str) -> String {
    SMALL.replace("small-pontoon", slug).replacen(
        "[[venues]]",
        "[policy]\nwind_sources = [\"gfs\"]\n[[venues]]",
        1,
    ) + "\n[[sessions]]\nid = \"monday-evening\"\nvenue = \"roadstead\"\nboat = \"tern\"\nlevel = \"crew\"\n\
           starts = \"2030-05-13T18:00\"\nends = \"20:00\"\n"
}

pub fn club(slug: &str) -> Arc<Club> {
    Arc::new(club::parse(&text(slug)).unwrap().club)
}

pub fn catalogue() -> Arc<Catalogue> {
    Arc::new(Catalogue::embedded().unwrap())
}

/// The club's sessions of Monday evening and Tuesday morning, asked for on Monday.
pub fn two_sessions(club: &Club) -> Vec<Occurrence> {
    let coming = advisor::coming(club, may(13, 10, 0));
    assert!(coming.len() >= 2, "{coming:?}");
    coming.into_iter().take(2).collect()
}

/// A part of a run of GFS: the steps, the wind in knots, and when it is visible.
pub fn part(
    reference: DateTime<Utc>,
    (number, steps): (u16, std::ops::RangeInclusive<u16>),
    knots: f64,
    visible_at: DateTime<Utc>,
) -> NewPart {
    let steps: Vec<Step> = steps.step_by(3).map(Step).collect();
    let parameters = [Parameter::WindU, Parameter::WindV, Parameter::Gust];
    let metres = (knots * METRES_PER_SECOND_IN_A_KNOT) as f32;
    let field = |parameter| FieldSeries {
        parameter,
        samples: vec![
            Ok(if parameter == Parameter::WindV {
                0.0
            } else {
                metres
            });
            steps.len()
        ],
    };
    let places = (0..25).map(|place| (place / 5, place % 5));
    let nodes = places.map(|(row, column)| NodeSeries {
        node: Node {
            column,
            row,
            at: LatLon::new(43.0 + 0.25 * f64::from(row), -16.0 + 0.25 * f64::from(column)).unwrap(),
        },
        fields: parameters.map(field).to_vec(),
    });
    let record = |parameter, step| MessageRecord {
        parameter,
        member: Member(0),
        step,
        file: "f".into(),
        offset: 0,
        length: 1,
        interval: None,
        outcome: Outcome::Read,
    };
    NewPart {
        source: SourceId::new("gfs"),
        reference,
        part: number,
        grid: "grid".into(),
        members: vec![Member(0)],
        nodes: nodes.collect(),
        messages: parameters
            .into_iter()
            .flat_map(|parameter| steps.iter().map(move |step| record(parameter, *step)))
            .collect(),
        steps,
        complete: true,
        visible_at,
    }
}

/// A whole run of three days, visible four hours after its reference time.
pub async fn run(store: &Store, reference: DateTime<Utc>, knots: f64) {
    let part = part(reference, (0, 0..=72), knots, reference + TimeDelta::hours(4));
    assert!(store.write_part(&part).await.unwrap());
}
