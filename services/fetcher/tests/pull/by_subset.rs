//! Pulls through a subset service. Source of the expected values: those of whole messages, read by byte ranges, within
//! the step of the service's packing.

use crate::feeds_at::{overridden, pull_with, replica_of};
use crate::tree::{HOME_POOL, RUN, at, plan, shared};
use fetcher::FetchPlan;
use forecast::{RunSlice, SourceId};
use replica::{Fault, Replica, Times};
use seaway::LatLon;
use store::Store;

const NOON: &str = "2030-05-13T12:00:00Z";
/// When the run of 00 UTC may still grow.
const EARLY: &str = "2030-05-13T06:30:00Z";

fn by_subset(replica: &Replica, feed: &str, now: &str) -> FetchPlan {
    let address = replica.base_url();
    let subset = format!("subset = {{ base_url = {address:?}, requests_per_minute = 100000 }}");
    let settings = format!("[{feed}]\nbase_url = {address:?}\n{subset}");
    FetchPlan {
        feeds: vec![(overridden(feed, &settings), address)],
        runs: 1,
        ..plan(&[], now)
    }
}

async fn slice(store: &Store, feed: &str) -> RunSlice {
    let (source, until) = (SourceId::new(feed), at("2030-05-20T00:00:00Z"));
    let read = store
        .read_slice(&source, at(RUN), until, &[HOME_POOL], None)
        .await;
    read.expect("a store").expect("a run")
}

/// Largest difference of two slices at the same places; they must lack the same values.
fn largest_difference(one: &RunSlice, other: &RunSlice) -> f64 {
    assert_eq!((&one.members, &one.steps), (&other.members, &other.steps));
    let mut largest = 0.0_f64;
    for node in &one.nodes {
        let same = |of: &&forecast::NodeSeries| of.node.at.distance(node.node.at).0 < 0.001;
        let found = other.nodes.iter().find(same).expect("the same node");
        for (field, of_other) in node.fields.iter().zip(&found.fields) {
            assert_eq!(field.parameter, of_other.parameter);
            for (a, b) in field.samples.iter().zip(&of_other.samples) {
                match (a, b) {
                    (Ok(a), Ok(b)) => {
                        let scale = f64::from(a.abs()).max(1.0);
                        largest = largest.max(f64::from((a - b).abs()) / scale);
                    }
                    (a, b) => assert_eq!(a.err(), b.err(), "{}", field.parameter),
                }
            }
        }
    }
    largest
}

#[tokio::test]
async fn a_subset_service_gives_the_values_of_whole_messages() {
    let Some(tree) = shared("grib-synthetic/noaa-gfs") else {
        return;
    };
    for feed in ["gfs", "gfs-wave"] {
        let replica = replica_of(&tree, "2030-05-13T05:00:00Z");
        let store = Store::open_in_memory().await.expect("a store");
        let ranges = FetchPlan {
            runs: 1,
            ..plan(&[(feed, &replica.base_url())], "2030-05-13T12:00:00Z")
        };
        // The run of 06 UTC is beyond the plan: noon less three and a half hours.
        let ranges = FetchPlan {
            now: at("2030-05-13T09:00:00Z"),
            ..ranges
        };
        let whole = pull_with(&ranges, &store, None).await;
        let (expected, by_ranges) = (slice(&store, feed).await, whole.sources[0].octets_received);

        let store = Store::open_in_memory().await.expect("a store");
        replica.forget_requests();
        let report = pull_with(&by_subset(&replica, feed, "2030-05-13T09:00:00Z"), &store, None).await;
        let source = &report.sources[0];
        assert_eq!(source.failure, None);
        assert_eq!(source.runs[0].missing, []);
        let asked = replica.requests();
        let questions = asked.iter().filter(|seen| seen.path.starts_with("/cgi-bin/"));
        assert_eq!(questions.count(), 121, "one for each step there is");
        assert!(
            asked
                .iter()
                .all(|seen| seen.method == "HEAD" || !seen.path.ends_with(".idx"))
        );
        let difference = largest_difference(&slice(&store, feed).await, &expected);
        // Waves come in hundredths, rounded anew.
        let packing = if feed == "gfs-wave" { 6e-3 } else { 2e-4 };
        assert!(difference < packing, "{feed}: {difference}");
        println!(
            "{feed}: {} octets by subset, {by_ranges} by ranges of small messages",
            source.octets_received
        );
        // Source: the project's bound for one venue's deterministic run.
        assert!(source.octets_received < 5_000_000, "{}", source.octets_received);
    }
}

#[tokio::test]
async fn a_subset_service_that_fails_is_told_and_asked_again_later() {
    let Some(tree) = shared("grib-synthetic/noaa-gfs") else {
        return;
    };
    for (fault, words) in [
        (Fault::BlockPage, "points elsewhere"),
        (Fault::HtmlPage, "web page"),
        (
            Fault::ServerError {
                status: 503,
                retry_after: None,
            },
            "503",
        ),
    ] {
        let replica = replica_of(&tree, "2030-05-13T05:00:00Z");
        replica.faults().add("/cgi-bin/", fault.clone(), Times::Always);
        let store = Store::open_in_memory().await.expect("a store");
        let plan = by_subset(&replica, "gfs", NOON);
        let report = pull_with(&plan, &store, None).await;
        let failure = report.sources[0].failure.clone().expect("a reason");
        assert!(failure.contains(words), "{fault:?}: {failure}");
        assert_eq!(report.sources[0].runs[0].parts_written, [0_u16; 0]);
        replica.faults().clear();
        let report = pull_with(&plan, &store, None).await;
        assert_eq!(report.sources[0].failure, None, "{fault:?}");
        assert!(!report.sources[0].runs[0].parts_written.is_empty());
    }
}

#[tokio::test]
async fn a_file_the_service_has_not_yet_is_waited_for_and_then_a_gap() {
    let Some(tree) = shared("grib-synthetic/noaa-gfs") else {
        return;
    };
    let replica = replica_of(&tree, "2030-05-13T05:00:00Z");
    replica
        .faults()
        .add("pgrb2.0p25.f005&", Fault::NotThere, Times::Always);
    let store = Store::open_in_memory().await.expect("a store");
    let report = pull_with(&by_subset(&replica, "gfs", EARLY), &store, None).await;
    let run = &report.sources[0].runs[0];
    assert_eq!(
        (run.parts_written.as_slice(), run.waiting_for_part),
        (&[][..], Some(0))
    );
    let report = pull_with(&by_subset(&replica, "gfs", "2030-05-13T09:00:00Z"), &store, None).await;
    let run = &report.sources[0].runs[0];
    assert_eq!(run.parts_written.len(), 10);
    assert!(
        run.missing.iter().all(|missing| missing.step.0 == 5),
        "{:?}",
        run.reasons()
    );
    assert!(!run.missing.is_empty());
}

// Source: the project's rule that many venues switch to byte ranges; the service's costs are those of the catalogue.
#[tokio::test]
async fn places_all_over_the_world_are_read_by_byte_ranges() {
    let Some(tree) = shared("grib-synthetic/noaa-gfs") else {
        return;
    };
    let replica = replica_of(&tree, "2030-05-13T05:00:00Z");
    let store = Store::open_in_memory().await.expect("a store");
    let mut plan = by_subset(&replica, "gfs", "2030-05-13T09:00:00Z");
    for (lat, lon) in [(-60.0, -170.0), (70.0, 170.0)] {
        plan.places.push(LatLon { lat, lon });
    }
    let report = pull_with(&plan, &store, None).await;
    assert_eq!(report.sources[0].failure, None);
    assert!(
        replica
            .requests()
            .iter()
            .all(|seen| !seen.path.starts_with("/cgi-bin/"))
    );
}
