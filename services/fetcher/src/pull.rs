//! One pull: for each feed the newest runs that should be out, part by part, into the store.
//!
//! Owns: which runs are taken, and that one source's fault is no other's. Must not know: limits, calls, clubs.

use crate::access::Access;
use crate::cache::MessageCache;
use crate::decoder::{Limits, WorkerCommand};
use crate::error::FetchError;
use crate::etiquette::HttpClient;
use crate::folder::SizeLimits;
use crate::read_part::Decoders;
use crate::report::{PullReport, SourceReport};
use crate::run_pull::RunPull;
use crate::secrets::without_passwords;
use crate::source::Source;
use crate::watch::{PullEvent, PullWatcher, Unwatched};
use chrono::{DateTime, TimeDelta, Utc};
use feeds::Feed;
use futures_util::{StreamExt, TryStreamExt, stream};
use seaway::LatLon;
use store::Store;
use tokio::sync::OnceCell;

/// How far back a run is looked for. Older ones are of no use to a session that is yet to come.
const LOOK_BACK_HOURS: i64 = 72;
/// Sources pulled side by side: a slow one does not hold up the others, and each has two decoders.
const SOURCES_AT_ONCE: usize = 3;

/// What to pull, for which places, as of when.
#[derive(Clone, Debug)]
pub struct FetchPlan {
    /// The feeds with the address of each one's tree, in the order in which they are reported.
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

/// What a pull is done with.
#[derive(Clone, Copy)]
pub struct PullMeans<'a> {
    /// The HTTP side: kept between pulls, it spares indexes that have not changed.
    pub http: &'a HttpClient,
    /// Where parts are kept.
    pub store: &'a Store,
    /// The program that decodes.
    pub worker: &'a WorkerCommand,
    /// Raw messages at hand, if they are kept.
    pub cache: Option<&'a MessageCache>,
    /// Who is told while it goes on.
    pub watcher: &'a dyn PullWatcher,
}

impl<'a> PullMeans<'a> {
    /// Without a cache, and nobody is told.
    pub fn new(http: &'a HttpClient, store: &'a Store, worker: &'a WorkerCommand) -> Self {
        Self {
            http,
            store,
            worker,
            cache: None,
            watcher: &Unwatched,
        }
    }
}

/// Pulls what the plan names, over a new HTTP client, without a cache; as [`pull_over`].
///
/// # Errors
/// As [`pull_over`].
pub async fn pull(plan: &FetchPlan, store: &Store, worker: &WorkerCommand) -> Result<PullReport, FetchError> {
    let http = HttpClient::default();
    pull_over(plan, &PullMeans::new(&http, store, worker)).await
}

/// Pulls what the plan names. What one source lacks or has damaged is told in the report; a source that cannot be read
/// at all leaves the others working. What is kept already is not read again.
///
/// # Errors
/// [`FetchError`] if the store fails or nothing can be decoded.
pub async fn pull_over(plan: &FetchPlan, means: &PullMeans<'_>) -> Result<PullReport, FetchError> {
    let pulls = plan.feeds.iter().map(|(feed, address)| {
        let pull = SourcePull {
            plan,
            means,
            feed,
            address,
        };
        pull.whole()
    });
    let sources = stream::iter(pulls)
        .buffered(SOURCES_AT_ONCE)
        .try_collect()
        .await?;
    if let Some(cache) = means.cache {
        // The age of what is kept is that of its files: the wall clock's, not that of the plan.
        cache.sweep(Utc::now()).await;
    }
    Ok(PullReport { sources })
}

/// The pull of one source.
struct SourcePull<'a> {
    plan: &'a FetchPlan,
    means: &'a PullMeans<'a>,
    feed: &'a Feed,
    address: &'a str,
}

impl SourcePull<'_> {
    async fn whole(self) -> Result<SourceReport, FetchError> {
        let source = &self.feed.name;
        let mut report = SourceReport::new(source.clone());
        self.means.watcher.tell(PullEvent::SourceBegins { source });
        match self.runs(&mut report).await {
            Err(
                error @ (FetchError::Address { .. }
                | FetchError::DecoderStops(_)
                | FetchError::Unreachable(_)),
            ) => {
                // What went wrong first is the cause: a source that failed too often is not asked any more.
                report
                    .failure
                    .get_or_insert(without_passwords(&error.to_string()));
            }
            outcome => outcome?,
        }
        report.log();
        self.means.watcher.tell(PullEvent::SourceEnds { report: &report });
        Ok(report)
    }

    async fn runs(&self, report: &mut SourceReport) -> Result<(), FetchError> {
        let (plan, http) = (self.plan, self.means.http);
        let source = Source::open(self.address, http, plan.limits)?;
        let access = Access::choose(self.feed, self.address, &plan.places, http, plan.limits).await?;
        let mut decoders = Decoders::new(self.means.worker, Limits::default());
        for run in self.feed.runs_out_at(plan.now, TimeDelta::hours(LOOK_BACK_HOURS)) {
            if report.runs.iter().filter(|run| run.is_usable()).count() == plan.runs {
                break;
            }
            let pull = RunPull {
                plan,
                means: self.means,
                feed: self.feed,
                address: self.address,
                source: &source,
                access: &access,
                run,
                ask: OnceCell::new(),
            };
            let found = pull.whole(&mut decoders).await;
            report.octets_received = source.received() + access.received();
            let run = match found {
                Ok(Some(run)) => run,
                Ok(None) => continue,
                // One run that cannot be asked for is no reason to go without the run before it.
                Err(error @ FetchError::Unreachable(_)) => {
                    report
                        .failure
                        .get_or_insert(without_passwords(&error.to_string()));
                    continue;
                }
                Err(error) => return Err(error),
            };
            report.failure = report.failure.take().or_else(|| run.stopped.clone());
            report.octets_wanted += run.octets_wanted;
            report.runs.push(run);
            self.sweep_if_full().await;
        }
        if report.runs.is_empty() {
            let address = without_passwords(self.address);
            let words = || format!("no run of the last {LOOK_BACK_HOURS} hours is at {address}");
            report.failure.get_or_insert_with(words);
        }
        Ok(())
    }

    async fn sweep_if_full(&self) {
        if let Some(cache) = self.means.cache.filter(|cache| cache.wants_sweep()) {
            cache.sweep(Utc::now()).await;
        }
    }
}
