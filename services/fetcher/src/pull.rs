//! One pull: for each feed the newest runs that should be out, part by part, into the store.
//!
//! Owns: which runs and parts are taken, and when a part is waited for. Must not know: limits, calls, clubs.

use crate::appeared::last_step_there;
use crate::decoder::{Ask, Limits, WorkerCommand};
use crate::error::FetchError;
use crate::etiquette::HttpClient;
use crate::folder::{ReadFault, SizeLimits};
use crate::read_part::{Decoders, read_part};
use crate::report::{PullReport, RunReport, SourceReport};
use crate::source::Source;
use chrono::{DateTime, TimeDelta, Utc};
use feeds::{Feed, plan::IndexTexts, plan_part};
use forecast::Step;
use seaway::LatLon;
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
    pull_over(plan, &HttpClient::default(), store, worker).await
}

/// As [`pull`], over an HTTP client of the caller: kept between pulls, it spares indexes that have not changed.
///
/// # Errors
/// As [`pull`].
pub async fn pull_over(
    plan: &FetchPlan,
    http: &HttpClient,
    store: &Store,
    worker: &WorkerCommand,
) -> Result<PullReport, FetchError> {
    let mut decoders = Decoders::new(worker, Limits::default());
    let mut report = PullReport::default();
    for (feed, address) in &plan.feeds {
        let mut of_source = SourceReport::new(feed.name.clone());
        let outcome = match Source::open(address, http, plan.limits) {
            Ok(source) => {
                let outcome = pull_source(
                    plan,
                    feed,
                    (address, &source),
                    store,
                    &mut decoders,
                    &mut of_source,
                )
                .await;
                of_source.octets_received = source.received();
                outcome
            }
            Err(error) => Err(error),
        };
        match outcome {
            Err(
                error @ (FetchError::Address { .. }
                | FetchError::DecoderStops(_)
                | FetchError::Unreachable(_)),
            ) => of_source.failure = Some(error.to_string()),
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
    (address, source): (&str, &Source),
    store: &Store,
    decoders: &mut Decoders,
    report: &mut SourceReport,
) -> Result<(), FetchError> {
    for run in feed.runs_out_at(plan.now, TimeDelta::hours(LOOK_BACK_HOURS)) {
        if report.runs.iter().filter(|run| run.is_usable()).count() == plan.runs {
            break;
        }
        let pull = RunPull {
            plan,
            feed,
            source,
            run,
        };
        let Some((run, octets)) = pull.run(store, decoders).await? else {
            continue;
        };
        report.octets_wanted += octets;
        report.failure = report.failure.take().or_else(|| run.stopped.clone());
        report.runs.push(run);
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
    feed: &'a Feed,
    source: &'a Source,
    run: DateTime<Utc>,
}

impl RunPull<'_> {
    /// The report and the octets of messages read; none if the run has no file.
    async fn run(
        &self,
        store: &Store,
        decoders: &mut Decoders,
    ) -> Result<Option<(RunReport, u64)>, FetchError> {
        let mut report = RunReport::new(self.run);
        let kept = store.runs(&self.feed.name, self.plan.now).await?;
        let kept = kept
            .into_iter()
            .find(|kept| kept.reference == self.run)
            .map_or(Vec::new(), |kept| kept.parts);
        report.parts_kept_before.clone_from(&kept);
        if kept.len() == usize::from(self.feed.part_count()) {
            return Ok(Some((report, 0)));
        }
        let given_up = self.feed.given_up(self.run, self.plan.now);
        let Some(last) = last_step_there(self.feed, self.source, self.run, given_up).await? else {
            return Ok(None);
        };
        let mut octets = 0;
        for part in (0..=self.feed.part_of(last)).filter(|part| !kept.contains(part)) {
            match self.next_part(part, last, store, decoders, &mut report).await {
                Ok(Some(of_part)) => octets += of_part,
                Ok(None) => break,
                Err(error @ FetchError::Unreachable(_)) => {
                    report.stopped = Some(error.to_string());
                    break;
                }
                Err(error) => return Err(error),
            }
        }
        Ok(Some((report, octets)))
    }

    /// The octets of the part's messages; none if it is still appearing.
    async fn next_part(
        &self,
        part: u16,
        last: Step,
        store: &Store,
        decoders: &mut Decoders,
        report: &mut RunReport,
    ) -> Result<Option<u64>, FetchError> {
        let indexes = self.indexes_of_part(part).await?;
        if self.still_appearing(part, last, &indexes) {
            report.waiting_for_part = Some(part);
            return Ok(None);
        }
        self.part(part, &indexes, store, decoders, report).await.map(Some)
    }

    async fn part(
        &self,
        part: u16,
        indexes: &IndexTexts,
        store: &Store,
        decoders: &mut Decoders,
        report: &mut RunReport,
    ) -> Result<u64, FetchError> {
        let planned = plan_part(self.feed, self.run, part, indexes);
        let wanted = planned.wanted.len();
        let ask = Ask::Around {
            places: self.plan.places.clone(),
            ring: self.plan.ring,
        };
        let missing_before = planned.missing.len();
        let (builder, octets) = read_part(self.source, planned, &ask, decoders).await?;
        let (part, missing) = builder.finish(self.feed.name.clone(), self.run, part, self.plan.now);
        if store.write_part(&part).await? {
            report.parts_written.push(part.part);
        }
        report.messages_read += wanted + missing_before - missing.len();
        report.missing.extend(missing);
        Ok(octets)
    }

    /// The last part there is waited for while files of it are absent and may yet come: a part is written once. Files
    /// absent before it, or after the time at which they are given up, are gaps.
    fn still_appearing(&self, part: u16, last: Step, indexes: &IndexTexts) -> bool {
        let files = || self.feed.files_of_part(self.run, part).into_iter();
        part == self.feed.part_of(last)
            && !self.feed.given_up(self.run, self.plan.now)
            && files().any(|file| !indexes.contains_key(&file.index_path))
    }

    /// The indexes that are there. One of which nothing can be said now ends the part: it is written once.
    async fn indexes_of_part(&self, part: u16) -> Result<IndexTexts, FetchError> {
        let files = self.feed.files_of_part(self.run, part).into_iter();
        let read = self
            .source
            .indexes(files.map(|file| file.index_path).collect())
            .await?;
        let mut indexes = IndexTexts::new();
        for (path, text) in read {
            match text {
                Ok(text) => indexes.insert(path, Ok(text)),
                Err(ReadFault::Unusable(reason)) => indexes.insert(path, Err(reason)),
                Err(ReadFault::Absent) => None,
                Err(fault @ ReadFault::Unreachable(_)) => return Err(fault.into()),
            };
        }
        Ok(indexes)
    }
}
