//! What every request may use.

use chrono::{DateTime, Utc};
use std::sync::Arc;
use store::Store;

/// Store, clock, club, and the sentence a demo says of itself. Cheap to clone.
#[derive(Clone)]
pub struct ApiState {
    pub(crate) store: Store,
    clock: Arc<dyn Fn() -> DateTime<Utc> + Send + Sync>,
    pub(crate) club: Arc<str>,
    pub(crate) demo: Option<Arc<str>>,
}

impl ApiState {
    /// `club` is the short name under which advisories are stored; `clock` tells the time of each request.
    pub fn new(
        store: Store,
        club: impl Into<Arc<str>>,
        clock: impl Fn() -> DateTime<Utc> + Send + Sync + 'static,
        demo: Option<String>,
    ) -> Self {
        Self {
            store,
            clock: Arc::new(clock),
            club: club.into(),
            demo: demo.map(Arc::from),
        }
    }

    /// The time it is.
    pub(crate) fn now(&self) -> DateTime<Utc> {
        (self.clock)()
    }
}
