//! Every fault a replica can make, once, now and then, and always: what is kept is true or missing, and the reason is told.
//!
//! Source of the truth: an undisturbed pull of the same tree. That no fault makes a value: the project's own rule.

use crate::feeds_at::{pull_with, replica_of};
use crate::tree::{LATER, RUN, Tree, at, plan, shared};
use chrono::TimeDelta;
use fetcher::PullReport;
use forecast::{RunSlice, SourceId};
use replica::{Fault, Times};
use std::path::Path;
use std::time::Duration;
use store::Store;

const NOON: &str = "2030-05-13T12:00:00Z";

fn on_the_wire() -> Vec<Fault> {
    vec![
        Fault::NotThere,
        Fault::Forbidden,
        Fault::TooManyRequests { retry_after: Some(0) },
        Fault::TooManyRequests {
            retry_after: Some(7200),
        },
        Fault::ServerError {
            status: 500,
            retry_after: None,
        },
        Fault::ServerError {
            status: 503,
            retry_after: Some(0),
        },
        Fault::Redirect {
            status: 301,
            to: "/elsewhere".into(),
        },
        Fault::Redirect {
            status: 307,
            to: "http://192.0.2.1/elsewhere".into(),
        },
        Fault::BlockPage,
        Fault::HtmlPage,
        Fault::RangeIgnored,
        Fault::RangeRefused,
        Fault::ClosedUnanswered,
        Fault::CutBody { after: 100 },
        Fault::SlowBody {
            octets: 40_000,
            every: Duration::from_millis(1),
        },
        Fault::StalledBody { after: 100 },
        Fault::LengthOverstated { by: 7 },
        Fault::LengthUnderstated { by: 7 },
        Fault::ClockOff {
            by: TimeDelta::hours(2),
        },
        Fault::ClockOff {
            by: TimeDelta::hours(-2),
        },
    ]
}

fn in_files() -> Vec<Fault> {
    vec![
        Fault::StopsGrowing { after_step: 1 },
        Fault::IndexOffsetsShifted { by: 3 },
        Fault::IndexOffsetsShifted { by: -200 },
        Fault::IndexLengthsWrong { by: 5 },
        Fault::IndexLengthsWrong { by: -5 },
        Fault::IndexOlder,
        Fault::IndexOfOtherRun { hours_before: 6 },
        Fault::FileTruncated { after: 3_000 },
        // Octets of sections 0 and 1 and of the end of section 0's length.
        Fault::FlippedOctets { octet: 0, count: 1 },
        Fault::FlippedOctets { octet: 7, count: 1 },
        Fault::FlippedOctets { octet: 15, count: 1 },
        Fault::FlippedOctets { octet: 29, count: 1 },
    ]
}

async fn slice(store: &Store, feed: &str) -> Option<RunSlice> {
    let (source, until) = (SourceId::new(feed), at("2030-05-20T00:00:00Z"));
    let near = [crate::tree::HOME_POOL];
    store
        .read_slice(&source, at(RUN), until, &near, None)
        .await
        .expect("a store")
}

/// Every value that is kept is the true one. Returns how many true ones are missing.
fn true_or_missing(kept: Option<&RunSlice>, truth: &RunSlice, what: &str) -> usize {
    let Some(kept) = kept else { return usize::MAX };
    let mut missing = 0;
    for node in &truth.nodes {
        let Some(found) = kept.nodes.iter().find(|of| of.node == node.node) else {
            missing += 1;
            continue;
        };
        for field in &node.fields {
            let Some(of_kept) = found.fields.iter().find(|of| of.parameter == field.parameter) else {
                missing += 1;
                continue;
            };
            for (member, _) in truth.members.iter().enumerate() {
                for (step_place, step) in truth.steps.iter().enumerate() {
                    let wanted = field.samples[member * truth.steps.len() + step_place];
                    let Some(place) = kept.steps.iter().position(|of| of == step) else {
                        missing += 1;
                        continue;
                    };
                    match (of_kept.samples[member * kept.steps.len() + place], wanted) {
                        (Ok(value), wanted) => {
                            assert_eq!(
                                Ok(value),
                                wanted,
                                "{what}: {} at step {}",
                                field.parameter,
                                step.0
                            );
                        }
                        (Err(_), Ok(_)) => missing += 1,
                        (Err(_), Err(_)) => {}
                    }
                }
            }
        }
    }
    missing
}

fn reasons(report: &PullReport) -> String {
    let source = &report.sources[0];
    let of_runs = source.runs.iter().flat_map(fetcher::RunReport::reasons);
    let mut all: Vec<String> = of_runs.map(|(reason, _)| reason).collect();
    all.extend(source.failure.clone());
    all.extend(
        source
            .runs
            .iter()
            .filter_map(|run| run.waiting_for_part.map(|part| format!("waits for part {part}"))),
    );
    all.join("\n")
}

/// Pulls with a fault, then without: nothing false is kept, what is lost is told, and what may pass does no lasting harm.
async fn bear(tree: &Path, feed: &str, truth: &RunSlice, fault: &Fault, times: Times) {
    let what = format!("{feed}, {fault:?}, {times:?}");
    let replica = replica_of(tree, NOON);
    let store = Store::open_in_memory().await.expect("a store");
    replica.faults().add(".", fault.clone(), times);
    let plan = plan(&[(feed, &replica.base_url())], LATER);
    let report = pull_with(&plan, &store, None).await;
    let lost = true_or_missing(slice(&store, feed).await.as_ref(), truth, &what);
    assert!(
        lost == 0 || !reasons(&report).is_empty(),
        "{what}: {lost} values are missing and nobody says why"
    );
    // What no part was written of is read once the server is well.
    replica.faults().clear();
    let written: Vec<u16> = report.sources[0]
        .runs
        .iter()
        .flat_map(|run| run.parts_written.clone())
        .collect();
    pull_with(&plan, &store, None).await;
    let lost = true_or_missing(slice(&store, feed).await.as_ref(), truth, &what);
    assert!(
        lost == 0 || !written.is_empty(),
        "{what}: {lost} values stay missing although no part was written"
    );
}

async fn truth(tree: &Path, feed: &str) -> RunSlice {
    let replica = replica_of(tree, NOON);
    let store = Store::open_in_memory().await.expect("a store");
    pull_with(&plan(&[(feed, &replica.base_url())], LATER), &store, None).await;
    slice(&store, feed).await.expect("a run")
}

async fn bear_all(tree: &Path, feed: &str, faults: Vec<Fault>) {
    let truth = truth(tree, feed).await;
    for fault in faults {
        for times in [Times::First(1), Times::Every(3), Times::Always] {
            bear(tree, feed, &truth, &fault, times).await;
        }
    }
}

#[tokio::test]
async fn no_fault_on_the_wire_makes_a_value() {
    let tree = Tree::with("gfs", 3).await;
    bear_all(tree.root(), "gfs", on_the_wire()).await;
}

#[tokio::test]
async fn no_fault_in_a_file_or_its_index_makes_a_value() {
    let tree = Tree::with("gfs", 3).await;
    bear_all(tree.root(), "gfs", in_files()).await;
}

#[tokio::test]
async fn nor_where_an_index_tells_lengths_or_there_is_none() {
    let Some(shared) = shared("grib-synthetic") else {
        return;
    };
    for (feed, from, steps) in [("ecmwf-ifs", "ecmwf", 4), ("icon-eu", "dwd", 3)] {
        let folder = tempfile::tempdir().expect("a folder");
        crate::feeds_at::copy_steps(&shared.join(from), folder.path(), feed, steps);
        bear_all(folder.path(), feed, on_the_wire()).await;
        bear_all(folder.path(), feed, in_files()).await;
    }
}

// Source: RFC 9110 section 15.4.4 and the design text on NOAA's block page; the words are the project's.
#[tokio::test]
async fn the_reasons_name_what_is_the_matter() {
    let tree = Tree::with("gfs", 3).await;
    for (path, fault, words) in [
        (".idx", Fault::HtmlPage, "web page"),
        ("f002", Fault::BlockPage, "throttles"),
        (
            "f002",
            Fault::ServerError {
                status: 500,
                retry_after: None,
            },
            "500",
        ),
        (
            "f002",
            Fault::TooManyRequests {
                retry_after: Some(7200),
            },
            "429",
        ),
        ("f002", Fault::RangeIgnored, "200, not 206"),
        (
            "f002.idx",
            Fault::IndexOfOtherRun { hours_before: 6 },
            "is of another run",
        ),
        ("f002.idx", Fault::IndexOffsetsShifted { by: 3 }, "not GRIB"),
        (
            "f002.idx",
            Fault::IndexPointsAt {
                line_with: "GUST".into(),
                at_line_with: "PRMSL".into(),
            },
            "not the one of its index line",
        ),
        (
            "gfs.20300513",
            Fault::StopsGrowing { after_step: 1 },
            "is not there",
        ),
        ("f002", Fault::FlippedOctets { octet: 7, count: 1 }, "edition"),
    ] {
        let replica = replica_of(tree.root(), NOON);
        let store = Store::open_in_memory().await.expect("a store");
        replica.faults().add(path, fault.clone(), Times::Always);
        let report = pull_with(&plan(&[("gfs", &replica.base_url())], LATER), &store, None).await;
        let told = reasons(&report);
        assert!(told.contains(words), "{fault:?}: {told} lacks {words}");
    }
}

// No source: the project's rule that only an index that stays is believed.
#[tokio::test]
async fn an_index_older_than_its_file_is_waited_for_until_the_run_is_given_up() {
    let tree = Tree::with("gfs", 12).await;
    let (early, late) = ("2030-05-13T05:00:00Z", LATER);
    let replica = replica_of(tree.root(), early);
    replica.faults().add("f002.idx", Fault::IndexOlder, Times::Always);
    let store = Store::open_in_memory().await.expect("a store");
    let report = pull_with(&plan(&[("gfs", &replica.base_url())], early), &store, None).await;
    let failure = report.sources[0].failure.clone().expect("a reason");
    assert!(failure.contains("f002.idx is older than its file"), "{failure}");
    assert_eq!(report.sources[0].runs[0].parts_written, [0_u16; 0]);
    let report = pull_with(&plan(&[("gfs", &replica.base_url())], late), &store, None).await;
    assert_eq!(report.sources[0].runs[0].parts_written, [0]);
    assert!(!report.sources[0].runs[0].missing.is_empty());
}

// Source: the design text on data sources: a file is taken when its server says it is some minutes old.
#[tokio::test]
async fn a_file_put_there_this_minute_is_left_for_the_next_pull() {
    let tree = Tree::with("gfs", 12).await;
    for (now, is_taken) in [("2030-05-13T00:01:59Z", false), ("2030-05-13T00:02:00Z", true)] {
        // Files are as old as their run, by the server's own clock; the client's is another matter.
        let replica = replica_of(tree.root(), now);
        let store = Store::open_in_memory().await.expect("a store");
        let report = pull_with(
            &plan(&[("gfs", &replica.base_url())], "2030-05-13T05:00:00Z"),
            &store,
            None,
        )
        .await;
        assert_eq!(
            report.sources[0].runs[0].parts_written.is_empty(),
            !is_taken,
            "{now}"
        );
        assert_eq!(
            report.sources[0].runs[0].waiting_for_part.is_some(),
            !is_taken,
            "{now}"
        );
    }
}
