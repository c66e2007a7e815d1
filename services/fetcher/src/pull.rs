//! One pull: for each feed the newest runs that should be out, part by part, into the store.
//!
//! Owns: which runs and parts are taken, and when a part is waited for. Must not know: limits, calls, clubs.

use crate::decoder::{Ask, Limits, WorkerCommand};
use crate::error::FetchError;
use crate::folder::{FolderSource, ReadFault, SizeLimits};
use crate::read_part::{Decoders, read_part};
use crate::report::{PullReport, RunReport, SourceReport};
use chrono::{DateTime, TimeDelta, Utc};
use feeds::{Feed, plan::IndexTexts, plan_part};
use forecast::Step;
use seaway::LatLon;
use std::sync::Arc;
use store::Store;

/// How far back a run is looked for. Older ones are of no use to a session that is yet to come.
const LOOK_BACK_HOURS: i64 = 72;

/// What to pull, for which places, as of when.
#[derive(Clone, Debug)]
pub struct FetchPlan {
    /// The feeds with the address of each one's tree, in the order in which they are pulled.
    pub feeds: Vec<(Feed, String)>,
    /// The places whose nodes are kept.
    pub places: Vec<LatLon>,
    /// Rows and columns of nodes kept beyond the four corners of each place's cell.
    pub ring: u32,
    /// The present instant: runs that are usually out by now are looked for, and what is written becomes visible now.
    pub now: DateTime<Utc>,
    /// How many of the newest runs of each feed are taken: two, so that calls can be compared with those of the run
    /// before, and the newest may still be appearing.
    pub runs: usize,
    /// Bounds on what is read.
    pub limits: SizeLimits,
}

/// Pulls what the plan names. What one source lacks or has damaged is told in the report; a source that cannot be read
/// at all leaves the others working. What is kept already is not read again.
///
/// # Errors
/// [`FetchError`] if the store fails or nothing can be decoded.
pub async fn pull(plan: &FetchPlan, store: &Store, worker: &WorkerCommand) -> Result<PullReport, FetchError> {
    let mut decoders = Decoders::new(worker, Limits::default());
    let mut report = PullReport::default();
    for (feed, address) in &plan.feeds {
        let mut of_source = SourceReport::new(feed.name.clone());
        match pull_source(plan, feed, address, store, &mut decoders, &mut of_source).await {
            Err(error @ (FetchError::Address { .. } | FetchError::DecoderStops(_))) => {
                of_source.failure = Some(error.to_string())
            }
            outcome => outcome?,
        }
        of_source.log();
        report.sources.push(of_source);
    }
    Ok(report)
}

async fn pull_source(
    plan: &FetchPlan,
    feed: &Feed,
    address: &str,
    store: &Store,
    decoders: &mut Decoders,
    report: &mut SourceReport,
) -> Result<(), FetchError> {
    let source = Arc::new(FolderSource::open(address, plan.limits)?);
    for run in feed.runs_out_at(plan.now, TimeDelta::hours(LOOK_BACK_HOURS)) {
        if report.runs.iter().filter(|run| run.is_usable()).count() == plan.runs {
            break;
        }
        let pull = RunPull {
            plan,
            feed: &Arc::new(feed.clone()),
            source: &source,
            run,
        };
        report.runs.extend(pull.run(store, decoders).await?);
    }
    if report.runs.is_empty() {
        report.failure = Some(format!(
            "no run of the last {LOOK_BACK_HOURS} hours is at {address}"
        ));
    }
    Ok(())
}

/// The pull of one run.
struct RunPull<'a> {
    plan: &'a FetchPlan,
    feed: &'a Arc<Feed>,
    source: &'a Arc<FolderSource>,
    run: DateTime<Utc>,
}

impl RunPull<'_> {
    /// None if the run has no file.
    async fn run(&self, store: &Store, decoders: &mut Decoders) -> Result<Option<RunReport>, FetchError> {
        let Some(last) = self.blocking(last_step_there).await? else {
            return Ok(None);
        };
        let mut report = RunReport::new(self.run);
        let kept = store.runs(&self.feed.name, self.plan.now).await?;
        let kept = kept
            .into_iter()
            .find(|kept| kept.reference == self.run)
            .map_or(Vec::new(), |kept| kept.parts);
        report.parts_kept_before.clone_from(&kept);
        for part in (0..=self.feed.part_of(last)).filter(|part| !kept.contains(part)) {
            let indexes = self
                .blocking(move |feed, source, run| indexes_of_part(feed, source, run, part))
                .await?;
            if self.still_appearing(part, last, &indexes) {
                report.waiting_for_part = Some(part);
                break;
            }
            self.part(part, &indexes, store, decoders, &mut report).await?;
        }
        Ok(Some(report))
    }

    async fn part(
        &self,
        part: u16,
        indexes: &IndexTexts,
        store: &Store,
        decoders: &mut Decoders,
        report: &mut RunReport,
    ) -> Result<(), FetchError> {
        let planned = plan_part(self.feed, self.run, part, indexes);
        let wanted = planned.wanted.len();
        let ask = Ask::Around {
            places: self.plan.places.clone(),
            ring: self.plan.ring,
        };
        let missing_before = planned.missing.len();
        let builder = read_part(self.source, planned, &ask, decoders).await?;
        let (part, missing) = builder.finish(self.feed.name.clone(), self.run, part, self.plan.now);
        if store.write_part(&part).await? {
            report.parts_written.push(part.part);
        }
        report.messages_read += wanted + missing_before - missing.len();
        report.missing.extend(missing);
        Ok(())
    }

    /// The last part there is waited for while files of it are absent and may yet come: a part is written once. Files
    /// absent before it, or after the time at which they are given up, are gaps.
    fn still_appearing(&self, part: u16, last: Step, indexes: &IndexTexts) -> bool {
        let files = || self.feed.files_of_part(self.run, part).into_iter();
        part == self.feed.part_of(last)
            && !self.feed.given_up(self.run, self.plan.now)
            && files().any(|file| !indexes.contains_key(&file.index_path))
    }

    /// Work on files, off the asynchronous threads.
    async fn blocking<T, F>(&self, work: F) -> Result<T, FetchError>
    where
        T: Send + 'static,
        F: FnOnce(&Feed, &FolderSource, DateTime<Utc>) -> T + Send + 'static,
    {
        let (feed, source, run) = (Arc::clone(self.feed), Arc::clone(self.source), self.run);
        let what = || {
            format!(
                "the indexes of run {} of {}",
                self.run.to_rfc3339(),
                self.feed.name
            )
        };
        let done = tokio::task::spawn_blocking(move || work(&feed, &source, run)).await;
        done.map_err(|source| FetchError::Interrupted { what: what(), source })
    }
}

/// The last step of which any member's index is there.
fn last_step_there(feed: &Feed, source: &FolderSource, run: DateTime<Utc>) -> Option<Step> {
    let members = feed.all_members();
    let there = |step: &Step| {
        members
            .iter()
            .any(|member| source.has(&feed.file(run, *member, *step).index_path))
    };
    feed.all_steps().into_iter().rev().find(there)
}

fn indexes_of_part(feed: &Feed, source: &FolderSource, run: DateTime<Utc>, part: u16) -> IndexTexts {
    let read = |path: String| match source.index(&path) {
        Ok(text) => Some((path, Ok(text))),
        Err(ReadFault::Unusable(reason)) => Some((path, Err(reason))),
        Err(ReadFault::Absent) => None,
    };
    feed.files_of_part(run, part)
        .into_iter()
        .filter_map(|file| read(file.index_path))
        .collect()
}
