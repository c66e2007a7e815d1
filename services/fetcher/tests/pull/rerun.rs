//! When runs and parts are taken. No source: these are the rules of the project's architecture text.

use crate::tree::{LATER, Tree, at, missing, run, sample, worker};
use fetcher::FetchError;
use fetcher::decoder::WorkerCommand;
use forecast::{Gap, Parameter, SourceId, Step};
use std::path::PathBuf;

#[tokio::test]
async fn a_second_pull_changes_nothing() {
    let tree = Tree::with("gfs", 24).await;
    assert_eq!(run(&tree.pull(&["gfs"], LATER).await).parts_written, [0, 1]);
    let before = tree.slice("gfs").await;
    let again = tree.pull(&["gfs"], "2030-05-13T18:00:00Z").await;
    assert_eq!(
        (
            run(&again).parts_written.len(),
            run(&again).parts_kept_before.as_slice()
        ),
        (0, &[0, 1][..])
    );
    assert_eq!(run(&again).messages_read, 0);
    assert_eq!(tree.slice("gfs").await, before);
}

#[tokio::test]
async fn a_run_is_not_looked_for_before_it_is_usually_out() {
    let tree = Tree::with("gfs", 12).await;
    let report = tree.pull(&["gfs"], "2030-05-13T03:29:00Z").await;
    assert!(report.sources[0].runs.is_empty());
    let failure = report.sources[0].failure.clone().expect("a reason");
    assert!(failure.contains("no run of the last 72 hours"), "{failure}");
}

#[tokio::test]
async fn a_part_still_appearing_is_waited_for_and_then_given_up() {
    let tree = Tree::with("gfs", 15).await;
    let early = tree.pull(&["gfs"], "2030-05-13T04:00:00Z").await;
    assert_eq!(
        (run(&early).parts_written.as_slice(), run(&early).waiting_for_part),
        (&[0][..], Some(1))
    );
    let late = tree.pull(&["gfs"], LATER).await;
    assert_eq!(
        (run(&late).parts_written.as_slice(), run(&late).waiting_for_part),
        (&[1][..], None)
    );
    let slice = tree.slice("gfs").await;
    assert!(sample(&slice, Parameter::WindU, 0, 15).is_ok());
    assert_eq!(sample(&slice, Parameter::WindU, 0, 16), Err(Gap::NotThere));
    let kept = tree
        .store
        .newest_run(&SourceId::new("gfs"), at(LATER))
        .await
        .expect("a store")
        .expect("a run");
    assert_eq!((kept.last_step, kept.complete), (Step(15), false));
}

#[tokio::test]
async fn a_part_that_grew_meanwhile_is_whole() {
    let tree = Tree::with("gfs", 9).await;
    let early = tree.pull(&["gfs"], "2030-05-13T04:00:00Z").await;
    assert_eq!(
        (run(&early).parts_written.len(), run(&early).waiting_for_part),
        (0, Some(0))
    );
    tree.add("gfs", 10, 12);
    assert_eq!(
        run(&tree.pull(&["gfs"], "2030-05-13T04:10:00Z").await).parts_written,
        [0]
    );
    assert_eq!(missing(&tree.slice("gfs").await), []);
}

#[tokio::test]
async fn a_part_without_files_between_others_is_kept_as_gaps() {
    let tree = Tree::with("gfs", 12).await;
    tree.add("gfs", 25, 36);
    assert_eq!(run(&tree.pull(&["gfs"], LATER).await).parts_written, [0, 1, 2]);
    let slice = tree.slice("gfs").await;
    assert_eq!(sample(&slice, Parameter::WindU, 0, 18), Err(Gap::NotThere));
    assert!(sample(&slice, Parameter::WindU, 0, 30).is_ok());
}

#[tokio::test]
async fn one_source_that_is_not_there_leaves_the_others() {
    let tree = Tree::with("gfs", 12).await;
    let report = tree.pull(&["gefs", "gfs"], LATER).await;
    assert!(report.sources[0].failure.is_some());
    assert_eq!(
        (
            report.sources[1].failure.as_ref(),
            report.sources[1].runs[0].parts_written.as_slice()
        ),
        (None, &[0][..])
    );
}

#[tokio::test]
async fn without_a_decoder_nothing_is_kept_and_no_message_is_blamed() {
    let tree = Tree::with("gfs", 12).await;
    let as_they_are = packed_as_images(&tree);
    let absent = WorkerCommand("/no/such/program".into(), Vec::new());
    let error = tree
        .try_pull(&["gfs"], LATER, &absent)
        .await
        .expect_err("no decoder");
    assert!(matches!(error, FetchError::Decoder(_)), "{error}");
    // A program that answers every message with what no decoder says.
    let echoes = WorkerCommand("/bin/cat".into(), Vec::new());
    let report = tree.try_pull(&["gfs"], LATER, &echoes).await.expect("a report");
    let failure = report.sources[0].failure.clone().expect("a reason");
    assert!(
        failure.contains("the decoder stops at every message"),
        "{failure}"
    );
    assert_eq!(
        tree.store
            .newest_run(&SourceId::new("gfs"), at(LATER))
            .await
            .expect("a store"),
        None
    );
    for (path, octets) in as_they_are {
        std::fs::write(path, octets).expect("a file");
    }
    let report = tree.try_pull(&["gfs"], LATER, &worker()).await.expect("a report");
    assert_eq!(run(&report).parts_written, [0]);
}

/// Says of each message that an image holds its values (template 5.41), so that a decoding child is asked for it. Returns the files as
/// they were. Source: WMO FM 92 GRIB2, section 5, octets 5 and 10-11.
fn packed_as_images(tree: &Tree) -> Vec<(PathBuf, Vec<u8>)> {
    let mut before = Vec::new();
    for step in 0..=12 {
        let path = tree.file("gfs", step).0;
        let octets = std::fs::read(&path).expect("a file");
        let mut changed = octets.clone();
        for frame in grid::split(&octets) {
            let grid::Frame::Message(message) = frame else {
                panic!("a damaged message")
            };
            let mut at = message.offset as usize + 16;
            while octets[at + 4] != 5 {
                at += u32::from_be_bytes(octets[at..at + 4].try_into().expect("four octets")) as usize;
            }
            changed[at + 9..at + 11].copy_from_slice(&41_u16.to_be_bytes());
        }
        std::fs::write(&path, changed).expect("a file");
        before.push((path, octets));
    }
    before
}
