//! The decoding child from outside: what it answers, and how it fails within its limits.
//!
//! Source of the octets: ../shared/grib-real. That limits hold is common practice, with no published source.

#![expect(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test may fail by panicking and says what it skipped"
)]

mod mesh;

use fetcher::decoder::{
    Ask, DecodeFailure, DecodeRequest, DecodedField, DecodedValues, Decoder, Limits, Stop, WorkerCommand,
};
use seaway::LatLon;
use shared_files::shared;
use std::collections::BTreeSet;
use std::time::Duration;

fn shared_file(name: &str) -> Option<Vec<u8>> {
    Some(std::fs::read(shared(&format!("grib-real/{name}"))?).unwrap())
}

fn worker() -> WorkerCommand {
    WorkerCommand(env!("CARGO_BIN_EXE_decode-worker").into(), Vec::new())
}

fn shell(script: &str) -> WorkerCommand {
    WorkerCommand("/bin/sh".into(), vec!["-c".to_owned(), script.to_owned()])
}

fn place(lat: f64, lon: f64) -> LatLon {
    LatLon::new(lat, lon).unwrap()
}

fn request(message: &[u8], number: u32, ask: Ask) -> DecodeRequest {
    DecodeRequest {
        message: message.to_vec().into(),
        number,
        ask,
    }
}

fn at(lat: f64, lon: f64) -> Ask {
    Ask::At {
        places: vec![place(lat, lon)],
    }
}

/// The messages of a file, by the length in section 0.
fn messages(bytes: &[u8]) -> Vec<Vec<u8>> {
    let whole = |frame| match frame {
        grid::Frame::Message(message) => Some(message.bytes.to_vec()),
        grid::Frame::Damage(_) => None,
    };
    grid::split(bytes).into_iter().filter_map(whole).collect()
}

fn bilinear(field: &DecodedField) -> f32 {
    match &field.outcome {
        Ok(DecodedValues::At(places)) => places[0].bilinear.unwrap(),
        other => panic!("{other:?}"),
    }
}

#[tokio::test]
async fn a_field_that_fails_costs_no_other_and_the_child_goes_on() {
    let Some(bytes) = shared_file("gfs-2p50-20111008-f072-multifield.grib2") else {
        return;
    };
    let both = &messages(&bytes)[4];
    let mut decoder = Decoder::new(worker(), Limits::default());
    let whole = decoder.decode(request(both, 5, at(50.0, -4.0))).await.unwrap();
    assert_eq!(whole.len(), 2);
    let mut harmed = both.clone();
    let second = harmed
        .windows(5)
        .rposition(|five| five == [0, 0, 0, 49, 5])
        .unwrap();
    harmed[second + 10] = 61;
    let fields = decoder.decode(request(&harmed, 5, at(50.0, -4.0))).await.unwrap();
    assert_eq!(fields[0], whole[0]);
    let damage = fields[1].outcome.as_ref().unwrap_err();
    assert_eq!(
        damage.in_file("f"),
        "unsupported: template 5.61 in message 5 of f (section 5, field 2)"
    );
}

#[tokio::test]
async fn nodes_around_places_come_once_each_with_their_samples() {
    let Some(bytes) = shared_file("gfs-2p50-20111008-f072-multifield.grib2") else {
        return;
    };
    let mut decoder = Decoder::new(worker(), Limits::default());
    let places = vec![place(50.1, -4.0), place(50.2, -3.9), place(50.1, -1.0)];
    let ask = Ask::Around {
        places: places.clone(),
        ring: 1,
    };
    let fields = decoder
        .decode(request(&messages(&bytes)[0], 1, ask))
        .await
        .unwrap();
    let Ok(DecodedValues::Around { nodes, samples }) = &fields[0].outcome else {
        panic!("{fields:?}")
    };
    // Cells 2.5 degrees apart: two blocks of four by four that share three columns, over the meridian.
    assert_eq!((nodes.len(), samples.len()), (20, 20));
    let header = &fields[0].header;
    assert_eq!(
        fields[0].grid,
        header.grid.as_ref().map(grid::GridDefinition::hash)
    );
    let near = decoder
        .decode(request(&messages(&bytes)[0], 1, Ask::At { places }))
        .await
        .unwrap();
    let Ok(DecodedValues::At(values)) = &near[0].outcome else {
        panic!("{near:?}")
    };
    let nearest = values[0].nearest.unwrap();
    let same = nodes.iter().position(|node| *node == nearest.node).unwrap();
    assert_eq!(samples[same], nearest.sample);
}

/// One message tells one component or the other: that u and v follow this grid is told, and nothing is turned here.
#[tokio::test]
async fn nodes_of_a_lambert_grid_come_as_they_are_with_a_grid_that_says_so() {
    let Some(bytes) = shared_file("nam-awp211-20180917-f000.grib2") else {
        return;
    };
    let winds = &messages(&bytes)[5];
    let mut decoder = Decoder::new(worker(), Limits::default());
    let at = decoder.decode(request(winds, 6, at(33.9, -132.0))).await.unwrap();
    let ask = Ask::Around {
        places: vec![place(33.9, -132.0)],
        ring: 1,
    };
    let around = decoder.decode(request(winds, 6, ask)).await.unwrap();
    assert_eq!((at.len(), around.len()), (2, 2));
    for (at, around) in at.iter().zip(&around) {
        let (Ok(DecodedValues::At(values)), Ok(DecodedValues::Around { nodes, samples })) =
            (&at.outcome, &around.outcome)
        else {
            panic!("{at:?} {around:?}")
        };
        assert_eq!(nodes.len(), 16);
        let nearest = values[0].nearest.unwrap();
        let same = nodes.iter().position(|node| *node == nearest.node).unwrap();
        assert_eq!(samples[same], nearest.sample);
        assert!(around.header.grid.as_ref().unwrap().turns_vectors());
        assert!(around.grid.as_ref().unwrap().starts_with("nearest-"));
    }
}

#[tokio::test]
async fn octets_that_are_not_one_message_are_named() {
    let Some(bytes) = shared_file("gfs-2p50-20111008-f072-multifield.grib2") else {
        return;
    };
    let mut decoder = Decoder::new(worker(), Limits::default());
    let all = messages(&bytes);
    let page = b"<!DOCTYPE html><html><body>503 for GRIB2</body></html>".to_vec();
    let cut = all[0][..all[0].len() - 10].to_vec();
    for (octets, words) in [
        (page, "looks like HTML"),
        (cut, "truncated"),
        (all[..2].concat(), "more octets"),
    ] {
        let failure = decoder
            .decode(request(&octets, 7, at(50.0, -4.0)))
            .await
            .unwrap_err();
        assert!(
            failure.to_string().contains("message 7") && failure.to_string().contains(words),
            "{failure}"
        );
    }
    let fields = decoder.decode(request(&all[0], 1, at(50.0, -4.0))).await.unwrap();
    assert!(bilinear(&fields[0]) > 90_000.0, "the child goes on");
}

/// A JPEG 2000 field of 801 by 601 points that claims, in every place alike, to have 8192 by 4096, and to be coded by the irreversible
/// transform, which leaves it to the `grib` crate's decoder.
fn grown(message: &[u8]) -> Vec<u8> {
    let mut grown = message.to_vec();
    let put = |octets: &mut Vec<u8>, at: usize, value: u32| {
        octets[at..at + 4].copy_from_slice(&value.to_be_bytes())
    };
    let section = |number: u8| {
        let mut at = 16;
        while grown[at + 4] != number {
            at += u32::from_be_bytes(grown[at..at + 4].try_into().unwrap()) as usize;
        }
        at
    };
    let (three, five, seven) = (section(3), section(5), section(7));
    let (columns, rows) = (8192, 4096);
    put(&mut grown, three + 6, columns * rows);
    put(&mut grown, three + 30, columns);
    put(&mut grown, three + 34, rows);
    // Increments not given, so that they do not contradict the corners.
    grown[three + 54] &= !0x30;
    put(&mut grown, five + 5, columns * rows);
    for (at, value) in [(8, columns), (12, rows), (24, columns), (28, rows)] {
        put(&mut grown, seven + 5 + at, value);
    }
    // Marker COD of ISO/IEC 15444-1, whose last octet names the transform.
    let coding = [0xff, 0x52, 0, 12];
    let at = grown
        .windows(coding.len())
        .position(|octets| octets == coding)
        .unwrap();
    grown[at + 13] = 0;
    grown
}

#[tokio::test]
async fn a_field_that_grows_beyond_the_memory_limit_is_a_failure_and_the_next_is_read() {
    let Some(bytes) = shared_file("arome-20201031-t2m.grib2") else {
        return;
    };
    let limits = Limits {
        memory_octets: 128 << 20,
        ..Limits::default()
    };
    let mut decoder = Decoder::new(worker(), limits);
    let failure = decoder
        .decode(request(&grown(&bytes), 3, at(45.0, 2.0)))
        .await
        .unwrap_err();
    assert_eq!(failure.to_string(), "message 3: decoder stopped: memory limit");
    let fields = decoder.decode(request(&bytes, 1, at(45.0, 2.0))).await.unwrap();
    assert!((200.0..330.0).contains(&bilinear(&fields[0])));
}

/// Whole fields of coordinates are always read by the child.
fn of_coordinates() -> Ask {
    Ask::NearestCells {
        longitude: Vec::new().into(),
        places: Vec::new(),
        around: 1,
    }
}

#[tokio::test]
async fn a_child_that_never_answers_is_ended() {
    let limits = Limits {
        time: Duration::from_millis(50),
        ..Limits::default()
    };
    let mut decoder = Decoder::new(shell("while read line; do :; done"), limits);
    let failure = decoder
        .decode(request(b"GRIB", 9, of_coordinates()))
        .await
        .unwrap_err();
    let DecodeFailure::Stopped {
        message: 9,
        why: Stop::TimeLimit(_),
    } = &failure
    else {
        panic!("{failure}")
    };
    assert_eq!(
        failure.to_string(),
        "message 9: decoder stopped: time limit of 0.05 s"
    );
}

#[tokio::test]
async fn children_that_end_or_answer_too_much_are_failures() {
    let mut decoder = Decoder::new(shell("head -c 30 > /dev/null; kill -9 $$"), Limits::default());
    let failure = decoder
        .decode(request(&[0; 100], 2, of_coordinates()))
        .await
        .unwrap_err();
    assert_eq!(
        failure.to_string(),
        "message 2: decoder stopped: ended by signal 9"
    );
    let mut decoder = Decoder::new(shell("printf '\\177\\0\\0\\0'; exec cat"), Limits::default());
    let failure = decoder
        .decode(request(&[0; 100], 2, of_coordinates()))
        .await
        .unwrap_err();
    assert_eq!(failure.to_string(), "message 2: decoder stopped: unusable answer");
    let nowhere = WorkerCommand("/no/such/program".into(), Vec::new());
    let failure = Decoder::new(nowhere, Limits::default())
        .decode(request(&[], 2, of_coordinates()))
        .await
        .unwrap_err();
    assert!(matches!(failure, DecodeFailure::NotStarted { .. }), "{failure}");
}

/// Which packings the decoder has a child for. No source: the project's own choice; the messages were written by ecCodes.
#[tokio::test]
async fn a_child_is_started_for_png_images_and_coordinates_only() {
    let nowhere = WorkerCommand("/no/such/program".into(), Vec::new());
    let mut decoder = Decoder::new(nowhere, Limits::default());
    let bytes = std::fs::read(concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../../fixtures/packings/fields.grib2"
    ))
    .unwrap();
    let (mut here, mut by_child) = (BTreeSet::new(), BTreeSet::new());
    for message in messages(&bytes) {
        let frame = grid::split(&message).remove(0);
        let grid::Frame::Message(whole) = frame else {
            panic!("{frame:?}")
        };
        let packing = grid::read_fields(&whole).unwrap()[0].packing_template;
        match decoder.decode(request(&message, 1, at(50.0, -4.0))).await {
            Ok(_) => here.insert(packing),
            Err(DecodeFailure::NotStarted { .. }) => by_child.insert(packing),
            Err(failure) => panic!("{failure}"),
        };
    }
    assert_eq!(here, BTreeSet::from([0, 2, 3, 4, 40, 42]));
    assert_eq!(by_child, BTreeSet::from([41]));
    let coordinates = decoder.decode(request(b"GRIB", 1, of_coordinates())).await;
    assert!(matches!(coordinates, Err(DecodeFailure::NotStarted { .. })));
}
