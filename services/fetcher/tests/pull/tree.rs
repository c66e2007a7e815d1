//! A copy of some steps of the bundled run in a folder of its own, and a pull from it.

use chrono::{DateTime, Utc};
use feeds::{Catalogue, Feed};
use fetcher::decoder::WorkerCommand;
use fetcher::{FetchError, FetchPlan, PullReport, RunReport, SizeLimits, pull};
use forecast::{Member, Outcome, Parameter, RunSlice, Sample, SourceId, Step};
use seaway::LatLon;
pub use shared_files::shared;
use std::collections::HashMap;
use std::path::{Path, PathBuf};
use store::Store;

/// The first cycle of the bundled run.
pub const RUN: &str = "2030-05-13T00:00:00Z";
/// An instant at which files of it that are absent are given up.
pub const LATER: &str = "2030-05-13T12:00:00Z";

/// `home-pool` of the invented week: it lies on a node.
pub const HOME_POOL: LatLon = LatLon {
    lat: 43.5,
    lon: -15.5,
};

pub fn at(time: &str) -> DateTime<Utc> {
    time.parse().unwrap()
}

pub fn feed(name: &str) -> Feed {
    Catalogue::embedded()
        .unwrap()
        .feed(&SourceId::new(name))
        .unwrap()
        .clone()
}

pub fn worker() -> WorkerCommand {
    WorkerCommand(PathBuf::from(env!("CARGO_BIN_EXE_decode-worker")), Vec::new())
}

pub fn rows(path: PathBuf) -> Vec<HashMap<String, String>> {
    csv::Reader::from_path(path)
        .unwrap()
        .deserialize()
        .map(Result::unwrap)
        .collect()
}

/// Copies of feed trees, a store, and a pull between them.
pub struct Tree {
    folder: tempfile::TempDir,
    pub store: Store,
}

impl Tree {
    pub async fn new() -> Self {
        Self {
            folder: tempfile::tempdir().unwrap(),
            store: Store::open_in_memory().await.unwrap(),
        }
    }

    /// With one feed's files of the first cycle up to a step.
    pub async fn with(feed_name: &str, last_step: u16) -> Self {
        let tree = Self::new().await;
        tree.add(feed_name, 0, last_step);
        tree
    }

    pub fn add(&self, feed_name: &str, first_step: u16, last_step: u16) {
        let feed = feed(feed_name);
        let bundled = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../fixtures/demo/feeds");
        let steps = feed
            .all_steps()
            .into_iter()
            .filter(|step| (first_step..=last_step).contains(&step.0));
        for step in steps {
            for member in feed.all_members() {
                let file = feed.file(at(RUN), member, step);
                for path in [file.path, file.index_path] {
                    let to = self.path(&path);
                    std::fs::create_dir_all(to.parent().unwrap()).unwrap();
                    std::fs::copy(bundled.join(tree_of(&feed)).join(&path), to).unwrap();
                }
            }
        }
    }

    pub fn root(&self) -> &Path {
        self.folder.path()
    }

    pub fn path(&self, below: &str) -> PathBuf {
        self.folder.path().join(below)
    }

    /// Path of a deterministic feed's file and of its index.
    pub fn file(&self, feed_name: &str, step: u16) -> (PathBuf, PathBuf) {
        let file = feed(feed_name).file(at(RUN), Member(0), Step(step));
        (self.path(&file.path), self.path(&file.index_path))
    }

    pub async fn pull(&self, feeds: &[&str], now: &str) -> PullReport {
        self.try_pull(feeds, now, &worker()).await.unwrap()
    }

    pub async fn try_pull(
        &self,
        feeds: &[&str],
        now: &str,
        worker: &WorkerCommand,
    ) -> Result<PullReport, FetchError> {
        let address = format!("file://{}", self.folder.path().display());
        let feeds: Vec<_> = feeds.iter().map(|name| (*name, address.as_str())).collect();
        pull(&plan(&feeds, now), &self.store, worker).await
    }

    pub async fn slice(&self, feed_name: &str) -> RunSlice {
        let source = SourceId::new(feed_name);
        let read = self
            .store
            .read_slice(&source, at(RUN), at("2030-05-20T00:00:00Z"), &[HOME_POOL], None)
            .await;
        read.unwrap().unwrap()
    }
}

/// A plan for feeds at their addresses.
pub fn plan(feeds: &[(&str, &str)], now: &str) -> FetchPlan {
    FetchPlan {
        feeds: feeds
            .iter()
            .map(|(name, address)| (feed(name), (*address).to_owned()))
            .collect(),
        places: vec![HOME_POOL],
        ring: 1,
        now: at(now),
        runs: 2,
        limits: SizeLimits::default(),
    }
}

/// Copies of both trees lie in one folder: their paths do not meet.
fn tree_of(feed: &Feed) -> &'static Path {
    Path::new(if feed.name.as_str() == "gefs" {
        "noaa-gefs"
    } else {
        "noaa-gfs"
    })
}

/// The first run of the first source of a report.
pub fn run(report: &PullReport) -> &RunReport {
    &report.sources[0].runs[0]
}

pub fn sample(slice: &RunSlice, parameter: Parameter, member: u16, step: u16) -> Sample {
    let near =
        |node: LatLon| (node.lat - HOME_POOL.lat).abs() < 1e-6 && (node.lon - HOME_POOL.lon).abs() < 1e-6;
    let node = slice.nodes.iter().find(|node| near(node.node.at)).unwrap();
    let field = node
        .fields
        .iter()
        .find(|field| field.parameter == parameter)
        .unwrap();
    let member = slice.members.iter().position(|of| of.0 == member).unwrap();
    let step = slice.steps.iter().position(|of| of.0 == step).unwrap();
    field.samples[member * slice.steps.len() + step]
}

/// Every value of a slice that is missing although its message was wanted: parameter, member, step.
pub fn missing(slice: &RunSlice) -> Vec<(Parameter, u16, u16)> {
    let lost = slice
        .messages
        .iter()
        .filter(|message| message.outcome != Outcome::Read);
    lost.map(|message| (message.parameter, message.member.0, message.step.0))
        .collect()
}
