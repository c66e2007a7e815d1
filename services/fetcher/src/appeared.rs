//! The last step of a run that has appeared.
//!
//! Must not know: parts, the store, messages.

use crate::error::FetchError;
use crate::source::Source;
use chrono::{DateTime, Utc};
use feeds::Feed;
use forecast::Step;

/// The last step of which any member's index is there; none if the run has none.
///
/// A folder is looked through from the end. A server is asked a few times only: for the last step, which is there when
/// the run is whole, then by halves, since steps appear in order. A hole can hide later steps from that search; they are
/// found once the run is whole or `given_up`, when all are asked for.
pub async fn last_step_there(
    feed: &Feed,
    source: &Source,
    run: DateTime<Utc>,
    given_up: bool,
) -> Result<Option<Step>, FetchError> {
    let steps = feed.steps_of_run(run);
    let of = |step: Step| {
        let members = feed.all_members();
        // One member tells that a server has the step, another that the first one's file alone is lost.
        let kept = if matches!(source, Source::Http(..)) {
            2
        } else {
            members.len()
        };
        let members = members.into_iter().take(kept);
        source.has_any(
            members
                .map(|member| feed.file(run, member, step).index_path)
                .collect(),
        )
    };
    if matches!(source, Source::Folder(_)) {
        return from_the_end(&steps, of).await;
    }
    let Some(last) = steps.last().copied() else {
        return Ok(None);
    };
    if of(last).await? {
        return Ok(Some(last));
    }
    let (mut there, mut not_there) = (0, steps.len());
    while there < not_there {
        let middle = there + (not_there - there) / 2;
        match of(steps[middle]).await? {
            true => there = middle + 1,
            false => not_there = middle,
        }
    }
    let found = there.checked_sub(1).map(|place| steps[place]);
    match found {
        Some(_) if given_up => from_the_end(&steps, of).await,
        found => Ok(found),
    }
}

async fn from_the_end<F: Future<Output = Result<bool, FetchError>>>(
    steps: &[Step],
    is_there: impl Fn(Step) -> F,
) -> Result<Option<Step>, FetchError> {
    for step in steps.iter().rev() {
        if is_there(*step).await? {
            return Ok(Some(*step));
        }
    }
    Ok(None)
}
