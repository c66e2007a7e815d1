//! Pulling from the feeds of a folder before a command reads the store.

use crate::output::{CommandError, failed};
use chrono::{DateTime, Utc};
use feeds::{Catalogue, Feed};
use fetcher::decoder::WorkerCommand;
use fetcher::{FetchPlan, PullReport, SizeLimits, pull};
use seaway::LatLon;
use std::path::Path;
use store::Store;

/// Rows and columns of nodes kept beyond the four around a place: enough to find water beside land.
const RING: u32 = 1;
/// Runs of each feed that are kept: the newest may still be appearing.
const RUNS: usize = 2;

/// Pulls every feed of the catalogue whose tree lies in the folder.
pub async fn pull_into(
    store: &Store,
    catalogue: &Catalogue,
    folder: &Path,
    places: Vec<LatLon>,
    now: DateTime<Utc>,
) -> Result<PullReport, CommandError> {
    let worker = WorkerCommand::of_this_program().map_err(failed("the decoder cannot be started"))?;
    let feeds = catalogue
        .feeds()
        .iter()
        .filter_map(|feed| Some((feed.clone(), address(folder, feed)?)))
        .collect();
    let plan = FetchPlan {
        feeds,
        places,
        ring: RING,
        now,
        runs: RUNS,
        limits: SizeLimits::default(),
    };
    pull(&plan, store, &worker)
        .await
        .map_err(failed("the forecasts cannot be pulled"))
}

/// The `file://` address of a feed's tree in the folder, if it is there. Trees are named by their producer's server.
pub fn address(folder: &Path, feed: &Feed) -> Option<String> {
    let tree = match feed.name.as_str() {
        "gfs" | "gfs-wave" => "noaa-gfs",
        "gefs" => "noaa-gefs",
        _ => return None,
    };
    let path = std::path::absolute(folder.join(tree)).ok()?;
    path.is_dir().then(|| format!("file://{}", path.display()))
}
