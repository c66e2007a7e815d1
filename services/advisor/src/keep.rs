//! The loop that keeps the advisories of a store's clubs current. No fault ends it.
//!
//! Owns: when it goes round, and that it goes on. Is given: a clock, news of this process's fetcher, the store.

use crate::clubs::{Advised, advise_all};
use crate::wake::{Due, Rhythm, Why, next_wake};
use chrono::{DateTime, TimeDelta, Utc};
use feeds::Catalogue;
use std::convert::Infallible;
use std::error::Error;
use std::sync::Arc;
use store::{NewestVisible, Store};
use tokio::sync::Notify;

/// Tells the time and lets it pass.
pub trait Clock: Sync {
    /// The time.
    fn now(&self) -> DateTime<Utc>;
    /// Done when so much of this clock's time has passed.
    fn pass(&self, time: TimeDelta) -> impl Future<Output = ()> + Send;
}

/// What keeps advising.
pub struct Keeper<'a, C> {
    /// The store, with the clubs.
    pub store: &'a Store,
    /// The catalogue.
    pub catalogue: &'a Arc<Catalogue>,
    /// The clock.
    pub clock: &'a C,
    /// Told by this process's fetcher when there is something new.
    pub news: &'a Notify,
    /// How often to look.
    pub rhythm: Rhythm,
}

impl<C: Clock> Keeper<'_, C> {
    /// Waits until something is due, advises, tells what came of it, and so on for ever.
    ///
    /// It waits first: what a first pull brings must not be forestalled by a board of sessions without a call.
    pub async fn keep_on(&self, tell: impl Fn(DateTime<Utc>, &Advised)) -> Infallible {
        let start = self.clock.now();
        let mut due = Due::from_start(start);
        let mut seen = self.visible(start).await.ok();
        loop {
            self.wait(&mut due, seen).await;
            let now = self.clock.now();
            // Noted before it is read: what appears meanwhile is looked at again.
            seen = self.visible(now).await.ok();
            let advised = advise_all(self.store, self.catalogue, now).await;
            tell(now, &advised);
            due = after(now, &advised, due.faults);
        }
    }

    async fn wait(&self, due: &mut Due, seen: Option<NewestVisible>) {
        loop {
            let now = self.clock.now();
            let wake = next_wake(now, due, self.rhythm);
            tokio::select! {
                () = self.news.notified() => return,
                () = self.clock.pass(wake.at - now) => {}
            }
            if wake.why != Why::Look {
                return;
            }
            match self.visible(self.clock.now()).await {
                Ok(visible) if Some(visible) == seen => {}
                Ok(_) => return,
                Err(error) => {
                    due.faults = due.faults.saturating_add(1);
                    let error: &dyn Error = &error;
                    tracing::error!(
                        error,
                        "the store could not be looked at for new parts; it is tried again"
                    );
                }
            }
        }
    }

    async fn visible(&self, now: DateTime<Utc>) -> Result<NewestVisible, store::StoreError> {
        self.store.newest_visible(now).await
    }
}

/// What there is to wait for after an advising.
fn after(now: DateTime<Utc>, advised: &Advised, faults: u32) -> Due {
    let valid_until = advised.round.issued.iter();
    Due {
        advised_at: now,
        faults: if advised.round.failed.is_empty() {
            0
        } else {
            faults.saturating_add(1)
        },
        decision_hours: advised.decision_hours.clone(),
        valid_until: valid_until
            .map(|issued| issued.advisory.valid_until.to_utc())
            .collect(),
    }
}
