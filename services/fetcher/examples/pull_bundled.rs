//! Pulls the bundled run into a new store and prints what it took: a figure, not a test.
//!
//! `cargo run --release -p fetcher --example pull_bundled [FEEDS-FOLDER]`

#![expect(clippy::print_stdout, reason = "a benchmark prints")]

use chrono::{DateTime, Utc};
use feeds::Catalogue;
use fetcher::decoder::{WorkerCommand, run_worker};
use fetcher::{FetchPlan, SizeLimits, pull};
use seaway::LatLon;
use std::process::ExitCode;
use std::time::Instant;
use store::Store;

type Failure = Box<dyn std::error::Error>;

fn main() -> ExitCode {
    if std::env::args().nth(1).as_deref() == Some("decode-worker") {
        return run_worker();
    }
    let runtime = tokio::runtime::Runtime::new().map_err(Failure::from);
    match runtime.and_then(|runtime| runtime.block_on(measure())) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            println!("{error}");
            ExitCode::FAILURE
        }
    }
}

async fn measure() -> Result<(), Failure> {
    let bundled = concat!(env!("CARGO_MANIFEST_DIR"), "/../../fixtures/demo/feeds");
    let folder = std::env::args().nth(1).unwrap_or_else(|| bundled.to_owned());
    let tree = |name: &str| if name == "gefs" { "noaa-gefs" } else { "noaa-gfs" };
    let catalogue = Catalogue::embedded()?;
    let feeds = catalogue.feeds().iter();
    let plan = FetchPlan {
        feeds: feeds
            .map(|feed| {
                (
                    feed.clone(),
                    format!("file://{folder}/{}", tree(feed.name.as_str())),
                )
            })
            .collect(),
        places: [(43.5, -15.5), (44.91, -15.28), (45.1, -14.15)]
            .iter()
            .filter_map(|&(lat, lon)| LatLon::new(lat, lon))
            .collect(),
        ring: 1,
        now: "2030-05-13T15:00:00Z".parse::<DateTime<Utc>>()?,
        runs: 2,
        limits: SizeLimits::default(),
    };
    let kept = tempfile::tempdir()?;
    let store = Store::open(&kept.path().join("store.db").display().to_string()).await?;
    let begun = Instant::now();
    let report = pull(&plan, &store, &WorkerCommand::of_this_program()?).await?;
    let took = begun.elapsed();
    let runs: Vec<_> = report
        .sources
        .iter()
        .flat_map(|source| source.runs.iter().map(move |run| (source, run)))
        .collect();
    for (source, run) in &runs {
        println!("{} {}: {run}", source.source, run.reference.to_rfc3339());
    }
    let messages: usize = runs.iter().map(|(_, run)| run.messages_read).sum();
    println!(
        "{messages} messages in {:.2} s, {:.0} a second",
        took.as_secs_f64(),
        messages as f64 / took.as_secs_f64()
    );
    let begun = Instant::now();
    let again = pull(&plan, &store, &WorkerCommand::of_this_program()?).await?;
    let read: usize = again
        .sources
        .iter()
        .flat_map(|source| &source.runs)
        .map(|run| run.messages_read)
        .sum();
    println!("again: {read} messages in {:.2} s", begun.elapsed().as_secs_f64());
    if let Ok(status) = std::fs::read_to_string("/proc/self/status") {
        let peak = status
            .lines()
            .find(|line| line.starts_with("VmHWM"))
            .unwrap_or_default();
        println!(
            "peak resident of the parent: {}",
            peak.trim_start_matches("VmHWM:").trim()
        );
    }
    let size = std::fs::metadata(kept.path().join("store.db"))?.len();
    println!("store: {size} octets");
    Ok(())
}
