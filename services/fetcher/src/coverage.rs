//! The grid a feed lies on, from its first readable message: a venue outside it can have no forecast.

use crate::decoder::{Ask, DecodeRequest, Decoder, Limits, WorkerCommand};
use crate::folder::{FolderSource, SizeLimits};
use crate::framing::whole_message;
use chrono::{DateTime, TimeDelta, Utc};
use feeds::{Feed, IndexTexts, plan_part};
use grid::GridDefinition;

/// How far back a run is looked for.
const LOOK_BACK: TimeDelta = TimeDelta::hours(48);
/// Messages tried before giving up.
const TRIED_AT_MOST: usize = 5;

/// The grid of the newest run of a feed at a `file://` address that should be out at `now`; none where nothing readable is there.
pub async fn grid_of(
    feed: &Feed,
    address: &str,
    now: DateTime<Utc>,
    worker: &WorkerCommand,
) -> Option<GridDefinition> {
    let source = FolderSource::open(address, SizeLimits::default()).ok()?;
    let mut decoder = Decoder::new(worker.clone(), Limits::default());
    for run in feed.runs_out_at(now, LOOK_BACK) {
        let first = feed.files_of_part(run, 0).into_iter().next()?;
        let Ok(text) = source.index(&first.index_path) else {
            continue;
        };
        let plan = plan_part(feed, run, 0, &IndexTexts::from([(first.index_path, Ok(text))]));
        for (number, wanted) in (1..).zip(plan.wanted.iter().take(TRIED_AT_MOST)) {
            let read = source.ranges(&wanted.file, &[wanted.range]).pop()?;
            let Some(message) = read.ok().and_then(|bytes| {
                Some(
                    whole_message(&bytes, wanted.range.last.is_none())
                        .ok()?
                        .to_vec()
                        .into(),
                )
            }) else {
                continue;
            };
            let request = DecodeRequest {
                message,
                number,
                ask: Ask::At { places: Vec::new() },
            };
            let fields = decoder.decode(request).await.unwrap_or_default();
            if let Some(grid) = fields.into_iter().find_map(|field| field.header.grid) {
                return Some(grid);
            }
        }
    }
    None
}
