//! What `serve` keeps doing beside answering: fetch, forget old runs, advise, send mail, wait.
//!
//! Owns: the loop that fetches and when it goes round; advisor and mail have their own. Is given: a clock, a signal to stop. No fault ends a loop.

use crate::commands::pull::Puller;
use crate::commands::serve::stopped;
use crate::context::Context;
use crate::mailing;
use crate::output::print;
use crate::standing::next_run;
use advisor::{Advised, AdvisorError, Round};
use chrono::{DateTime, TimeDelta, Utc};
use digests::Office;
use feeds::Feed;
use fetcher::{PullEvent, PullReport, PullWatcher, in_full};
use std::error::Error;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::{Notify, watch};

/// Tells the time.
pub type Clock = Arc<dyn Fn() -> DateTime<Utc> + Send + Sync>;

/// How often the store is looked at for parts that another process has fetched.
const LOOK: TimeDelta = TimeDelta::seconds(10);

/// What is kept going.
pub struct Keeping {
    context: Context,
    puller: Puller,
    clock: Clock,
    /// How many times faster than the machine's the clock goes.
    pace: u32,
    /// What sees to the mail, if the settings send any.
    office: Option<Arc<Office>>,
    /// There is something new to advise on.
    news: Arc<Notify>,
}

/// Wakes the adviser when a source that gave something is done with: it need not wait for the slower ones.
struct Wakes(Arc<Notify>);

impl PullWatcher for Wakes {
    fn tell(&self, event: PullEvent<'_>) {
        if let PullEvent::SourceEnds { report } = event
            && report.runs.iter().any(|run| !run.parts_written.is_empty())
        {
            self.0.notify_one();
        }
    }
}

impl Keeping {
    /// Nothing runs yet.
    pub fn new(
        context: Context,
        puller: Puller,
        office: Option<Arc<Office>>,
        (clock, pace): (Clock, u32),
    ) -> Self {
        Self {
            office,
            context,
            puller,
            clock,
            pace: pace.max(1),
            news: Arc::default(),
        }
    }

    /// The club of this process is one of the store's from now on, in this version of its file.
    ///
    /// # Errors
    /// If it cannot be kept.
    pub async fn keep_club(&self) -> Result<(), AdvisorError> {
        let context = &self.context;
        advisor::keep_club(&context.store, &context.club, &context.club_text, (self.clock)()).await
    }

    /// Fetches and advises until the signal. A pull that is ended so has written whole parts only.
    pub async fn until(&self, stop: &watch::Receiver<bool>) {
        tokio::select! {
            () = stopped(stop.clone()) => {}
            () = self.fetch_on() => {}
            () = self.advise_on() => {}
            () = self.post_on() => {}
        }
    }

    async fn fetch_on(&self) {
        loop {
            self.fetch().await;
            self.news.notify_one();
            let now = (self.clock)();
            let feeds: Vec<&Feed> = self.context.sources.iter().map(|(feed, _)| feed).collect();
            let wait = wait(&feeds, now, self.context.settings.interval);
            tokio::time::sleep(wait / self.pace).await;
        }
    }

    async fn advise_on(&self) {
        let context = &self.context;
        let keeper = advisor::Keeper {
            store: &context.store,
            catalogue: &context.catalogue,
            clock: self,
            news: &self.news,
            rhythm: advisor::Rhythm {
                look: LOOK * i32::try_from(self.pace).unwrap_or(i32::MAX),
                beat: context.settings.interval,
            },
        };
        let _for_ever = keeper.keep_on(told).await;
    }

    async fn post_on(&self) {
        match &self.office {
            Some(office) => {
                let _for_ever = mailing::keep_on(office, &self.context, &self.clock, self.pace).await;
            }
            None => std::future::pending().await,
        }
    }

    async fn fetch(&self) {
        let now = (self.clock)();
        match self
            .puller
            .pull(&self.context, now, &Wakes(self.news.clone()))
            .await
        {
            Ok(report) => print(&format!("{} fetched: {}\n", clock_words(now), gained(&report))),
            Err(error) => self.failed("the forecasts could not be fetched", &error),
        }
        if let Err(error) = self.context.store.prune(self.context.settings.prune, now).await {
            self.failed("old runs could not be forgotten", &error);
        }
    }

    fn failed(&self, what: &str, error: &dyn Error) {
        tracing::error!("{what}: {}; it is tried again", in_full(error));
    }
}

impl advisor::Clock for Keeping {
    fn now(&self) -> DateTime<Utc> {
        (self.clock)()
    }

    async fn pass(&self, time: TimeDelta) {
        tokio::time::sleep(time.to_std().unwrap_or_default() / self.pace).await;
    }
}

fn told(now: DateTime<Utc>, advised: &Advised) {
    let Round { issued, failed } = &advised.round;
    let new = issued.iter().filter(|issued| issued.new).count();
    let failed = match failed.len() {
        0 => String::new(),
        failed => format!(", {failed} failed"),
    };
    print(&format!(
        "{} advised: {} sessions, {new} new advisories{failed}\n",
        clock_words(now),
        issued.len()
    ));
}

/// Until the interval has passed, or until a run is usually out, if that is sooner.
fn wait(feeds: &[&Feed], now: DateTime<Utc>, interval: TimeDelta) -> Duration {
    let expected = feeds.iter().filter_map(|feed| next_run(feed, now));
    let sooner = expected.map(|run| run.usually_out_at - now).min();
    let wait = sooner.map_or(interval, |sooner| sooner.min(interval));
    // A second at least: what is expected at this very moment has been looked for.
    wait.max(TimeDelta::seconds(1))
        .to_std()
        .unwrap_or(Duration::from_secs(1))
}

fn gained(report: &PullReport) -> String {
    let of = |source: &fetcher::SourceReport| {
        let parts: usize = source.runs.iter().map(|run| run.parts_written.len()).sum();
        match (&source.failure, parts) {
            (Some(_), 0) => format!("{} failed", source.source),
            (Some(_), parts) => format!("{} {parts} parts, then failed", source.source),
            (None, 0) => format!("{} nothing new", source.source),
            (None, 1) => format!("{} 1 part", source.source),
            (None, parts) => format!("{} {parts} parts", source.source),
        }
    };
    report.sources.iter().map(of).collect::<Vec<_>>().join(", ")
}

fn clock_words(now: DateTime<Utc>) -> String {
    now.format("%Y-%m-%d %H:%M UTC").to_string()
}

#[cfg(test)]
mod tests {
    use super::*;
    use feeds::catalogue::Catalogue;
    use forecast::SourceId;

    // The catalogue's own words: GFS runs at 12 UTC are usually out from 15:30 UTC on.
    #[test]
    fn it_waits_for_the_interval_or_the_next_run_whichever_is_sooner() {
        let catalogue = Catalogue::embedded().unwrap();
        let gfs = catalogue.feed(&SourceId::new("gfs")).unwrap();
        let wait = |now: &str| wait(&[gfs], now.parse().unwrap(), TimeDelta::minutes(10)).as_secs();
        assert_eq!(wait("2030-05-13T15:00:00Z"), 600);
        assert_eq!(wait("2030-05-13T15:25:00Z"), 300);
        assert_eq!(wait("2030-05-13T15:29:59.900Z"), 1);
        assert_eq!(wait("2030-05-13T15:30:00Z"), 600);
        assert_eq!(
            super::wait(
                &[],
                "2030-05-13T15:30:00Z".parse().unwrap(),
                TimeDelta::minutes(7)
            )
            .as_secs(),
            420
        );
    }
}
