//! One pull of the sources of a context, for every command that fetches.
//!
//! Owns: the plan, the means, and that what went wrong is kept as notes.

use crate::context::Context;
use crate::notes;
use crate::output::{CommandError, failed};
use crate::settings::address::is_elsewhere;
use chrono::{DateTime, Utc};
use feeds::Feed;
use fetcher::decoder::WorkerCommand;
use fetcher::{
    FetchPlan, HttpClient, HttpSettings, MessageCache, PullMeans, PullReport, PullWatcher, RetryLimits,
    SizeLimits, Unwatched, in_full, pull_over,
};
use std::path::Path;

/// Rows and columns of nodes kept beyond the four around a place: enough to find water beside land.
const RING: u32 = 1;
/// Runs of each feed that are kept: the newest may still be appearing.
const RUNS: usize = 2;

/// What pulls are done with; kept between pulls.
pub struct Puller {
    http: HttpClient,
    worker: WorkerCommand,
    cache: Option<MessageCache>,
}

impl Puller {
    /// From the settings. Producers elsewhere must be told whom to write to.
    pub fn new(context: &Context) -> Result<Self, CommandError> {
        let settings = &context.settings;
        let mut elsewhere = context
            .sources
            .iter()
            .filter(|(_, address)| is_elsewhere(address));
        if let (Some((feed, _)), None) = (elsewhere.next(), &settings.contact) {
            return Err(CommandError::Wrong(format!(
                "cringle: {} is fetched from its producer's server, who must be able to reach you: set [fetch] contact \
                 (CRINGLE__FETCH__CONTACT) to a mail or web address",
                feed.name
            )));
        }
        let cache = settings.cache_folder.as_ref().and_then(|folder| {
            // Without the cache a pull asks more of the producer and is otherwise the same.
            MessageCache::in_folder(folder, settings.cache)
                .inspect_err(|words| tracing::warn!("raw messages are not cached: {words}"))
                .ok()
        });
        Ok(Self {
            http: HttpClient::new(HttpSettings {
                contact: settings.contact.clone(),
                per_host: settings.per_host,
                overall: settings.overall,
                per_minute: Some(settings.per_minute),
                idle: settings.silence,
                retry: RetryLimits {
                    times: settings.further_tries,
                    ..RetryLimits::default()
                },
                ..HttpSettings::default()
            }),
            worker: WorkerCommand::of_this_program().map_err(failed("the decoder cannot be started"))?,
            cache,
        })
    }

    /// Pulls every source once and keeps notes of what went wrong.
    ///
    /// # Errors
    /// If the store fails or nothing can be decoded. A source's own fault is in the report.
    pub async fn pull(
        &self,
        context: &Context,
        now: DateTime<Utc>,
        watcher: &dyn PullWatcher,
    ) -> Result<PullReport, CommandError> {
        let others = advisor::places_of_others(&context.store, &context.club.slug).await;
        let others = others.map_err(failed("the places of the store's other clubs cannot be read"))?;
        let plan = FetchPlan {
            feeds: sources(context),
            places: [context.places(), others].concat(),
            ring: RING,
            now,
            runs: RUNS,
            limits: SizeLimits::default(),
        };
        let means = PullMeans {
            http: &self.http,
            store: &context.store,
            worker: &self.worker,
            cache: self.cache.as_ref(),
            watcher,
        };
        let pulled = pull_over(&plan, &means).await;
        let noted = match &pulled {
            Ok(report) => notes::keep(&context.store, report, now).await,
            Err(error) => {
                let sources = context.sources.iter().map(|(feed, _)| &feed.name);
                notes::keep_failure(&context.store, sources, &in_full(error), now).await
            }
        };
        let report = pulled.map_err(failed("the forecasts cannot be pulled"))?;
        noted.map_err(failed("what went wrong cannot be noted"))?;
        Ok(report)
    }
}

fn sources(context: &Context) -> Vec<(Feed, String)> {
    let mut sources = context.sources.clone();
    if !context.settings.by_subset {
        sources.iter_mut().for_each(|(feed, _)| feed.subset = None);
    }
    sources
}

/// Pulls every source of a context once.
pub async fn pull_into(context: &Context, now: DateTime<Utc>) -> Result<PullReport, CommandError> {
    Puller::new(context)?.pull(context, now, &Unwatched).await
}

/// The `file://` address of a feed's tree in the folder, if it is there. Trees are named by their producer's server.
pub fn address(folder: &Path, feed: &Feed) -> Option<String> {
    let tree = match feed.name.as_str() {
        "gfs" | "gfs-wave" => "noaa-gfs",
        "gefs" => "noaa-gefs",
        name if name.starts_with("ecmwf-") => "ecmwf",
        "icon-eu" | "icon-eu-native" | "icon-d2-native" | "ewam" => "dwd",
        _ => return None,
    };
    let path = std::path::absolute(folder.join(tree)).ok()?;
    path.is_dir().then(|| format!("file://{}", path.display()))
}
