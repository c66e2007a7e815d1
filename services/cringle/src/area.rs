//! The area that the feeds of a folder cover, for telling a venue that no forecast can reach.

use crate::commands::pull::address;
use chrono::{DateTime, Utc};
use feeds::Catalogue;
use fetcher::decoder::WorkerCommand;
use grid::GridDefinition;
use seaway::LatLon;
use std::path::Path;

/// The area of a feed's grid.
pub struct Area {
    grid: GridDefinition,
    /// In words, for a message.
    pub words: String,
}

impl Area {
    /// The area of the first feed of the catalogue that has a readable run in the folder; none where none has.
    pub async fn of_feeds(folder: &Path, now: DateTime<Utc>) -> Option<Self> {
        let worker = WorkerCommand::of_this_program().ok()?;
        for feed in Catalogue::embedded().ok()?.feeds() {
            let Some(address) = address(folder, feed) else {
                continue;
            };
            if let Some(grid) = fetcher::grid_of(feed, &address, now, &worker).await {
                return Some(Self {
                    words: words(&grid),
                    grid,
                });
            }
        }
        None
    }

    /// Whether a place lies inside.
    pub fn covers(&self, at: LatLon) -> bool {
        self.grid.nearest(at).is_some()
    }
}

fn words(grid: &GridDefinition) -> String {
    let (first, last) = (
        grid.node_at(0, 0).at,
        grid.node_at(grid.columns - 1, grid.rows - 1).at,
    );
    let side = |value: f64, positive: &str, negative: &str| {
        format!(
            "{} {}",
            value.abs(),
            if value < 0.0 { negative } else { positive }
        )
    };
    format!(
        "{} to {}, {} to {}",
        side(first.lat, "N", "S"),
        side(last.lat, "N", "S"),
        side(first.lon, "E", "W"),
        side(last.lon, "E", "W")
    )
}
