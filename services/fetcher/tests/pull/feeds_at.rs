//! Pulls from a replica of producers' trees.

use crate::tree::{HOME_POOL, RUN, at, plan, worker};
use feeds::{Catalogue, Feed};
use fetcher::{
    FetchPlan, HttpClient, HttpSettings, MessageCache, PullMeans, PullReport, RetryLimits, pull_over,
};
use forecast::{Gap, RunSlice, SourceId};
use replica::{Replica, ReplicaSettings, fixed_clock};
use std::path::Path;
use std::time::Duration;
use store::Store;

/// Without waits between tries; a silence of a body is soon taken for its end.
pub fn settings() -> HttpSettings {
    HttpSettings {
        contact: Some("mail@example.org".to_owned()),
        idle: Duration::from_millis(150),
        retry: RetryLimits {
            times: 2,
            first_wait: Duration::ZERO,
            ..RetryLimits::default()
        },
        ..HttpSettings::default()
    }
}

/// A tree of which everything is there.
pub fn replica_of(tree: &Path, now: &str) -> Replica {
    Replica::start(ReplicaSettings::folder(tree, fixed_clock(at(now)))).expect("a replica")
}

/// What a pull left.
pub struct Pulled {
    pub store: Store,
    pub report: PullReport,
}

impl Pulled {
    /// The first run at `home-pool`.
    pub async fn slice(&self, feed: &str) -> RunSlice {
        let (source, until) = (SourceId::new(feed), at("2030-05-20T00:00:00Z"));
        let read = self
            .store
            .read_slice(&source, at(RUN), until, &[HOME_POOL], None)
            .await;
        read.expect("a store").expect("a run")
    }

    /// What the first source's runs lack.
    pub fn missing(&self) -> Vec<(Gap, String)> {
        let runs = self.report.sources[0].runs.iter();
        runs.flat_map(|run| &run.missing)
            .map(|missing| (missing.gap, missing.reason.clone()))
            .collect()
    }
}

/// Pulls feeds from a replica into a new store.
pub async fn pull_from(replica: &Replica, feeds: &[&str], now: &str) -> Pulled {
    let address = replica.base_url();
    let feeds: Vec<_> = feeds.iter().map(|name| (*name, address.as_str())).collect();
    let store = Store::open_in_memory().await.expect("a store");
    let report = pull_with(&plan(&feeds, now), &store, None).await;
    Pulled { store, report }
}

/// Carries a plan out over a new client.
pub async fn pull_with(plan: &FetchPlan, store: &Store, cache: Option<&MessageCache>) -> PullReport {
    let (http, worker) = (HttpClient::new(settings()), worker());
    let means = PullMeans {
        cache,
        ..PullMeans::new(&http, store, &worker)
    };
    pull_over(plan, &means).await.expect("a report")
}

/// A feed with settings laid over it, its own address being a replica's.
pub fn overridden(name: &str, settings: &str) -> Feed {
    let catalogue = Catalogue::embedded().expect("a catalogue");
    let changed = catalogue.with_overrides_text(settings).expect("settings");
    changed.feed(&SourceId::new(name)).expect("a feed").clone()
}

/// Copies the files of a feed's first so many steps, below their own paths.
pub fn copy_steps(from: &Path, to: &Path, feed_name: &str, steps: usize) {
    let feed = crate::tree::feed(feed_name);
    for step in feed.steps_of_run(at(RUN)).into_iter().take(steps) {
        for want in feed.want.iter().filter(|want| want.is_due(step)) {
            let file = feed.message_file(at(RUN), forecast::Member(0), step, want);
            for path in [file.path, file.index_path] {
                // What the invented tree leaves out of a real one is left out here too.
                let Ok(octets) = std::fs::read(from.join(&path)) else {
                    continue;
                };
                let path = to.join(path);
                std::fs::create_dir_all(path.parent().expect("a folder")).expect("made");
                std::fs::write(path, octets).expect("written");
            }
        }
    }
}
