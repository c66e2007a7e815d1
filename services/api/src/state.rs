//! What every request may use.

use crate::clubs::Clubs;
use crate::finished::FinishedAnswers;
use crate::limits::Limits;
use crate::metrics::Metrics;
use crate::serving::Serving;
use chrono::{DateTime, Utc};
use feeds::Catalogue;
use present::standing::SourceStanding;
use std::pin::Pin;
use std::sync::Arc;
use store::{Store, StoreError};

/// An answer to come: how the sources stand.
pub type Standings = Pin<Box<dyn Future<Output = Result<Vec<SourceStanding>, StoreError>> + Send>>;

/// Asks how the sources stand at a moment: where forecasts come from is not known here.
pub type AskSources = Arc<dyn Fn(DateTime<Utc>) -> Standings + Send + Sync>;

/// Store, clock, club, and the sentence a demo says of itself. Cheap to clone.
#[derive(Clone)]
pub struct ApiState {
    pub(crate) store: Store,
    clock: Arc<dyn Fn() -> DateTime<Utc> + Send + Sync>,
    pub(crate) club: Arc<str>,
    pub(crate) demo: Option<Arc<str>>,
    sources: Option<AskSources>,
    pub(crate) catalogue: Arc<Catalogue>,
    pub(crate) clubs: Arc<Clubs>,
    pub(crate) serving: Arc<Serving>,
    pub(crate) limits: Arc<Limits>,
    pub(crate) metrics: Metrics,
    pub(crate) finished: Arc<FinishedAnswers>,
}

impl ApiState {
    /// `club` is the short name under which advisories are stored; `clock` tells the time of each request;
    /// `serving` bounds what clients may ask.
    pub fn new(
        store: Store,
        club: impl Into<Arc<str>>,
        clock: impl Fn() -> DateTime<Utc> + Send + Sync + 'static,
        demo: Option<String>,
        catalogue: Arc<Catalogue>,
        serving: Serving,
    ) -> Self {
        Self {
            store,
            clock: Arc::new(clock),
            club: club.into(),
            demo: demo.map(Arc::from),
            sources: None,
            catalogue,
            clubs: Arc::new(Clubs::looked_at_every(serving.answers_kept_for)),
            limits: Arc::new(Limits::a_minute(serving.requests_a_minute)),
            finished: Arc::new(FinishedAnswers::for_a_while(serving.answers_kept_for)),
            serving: Arc::new(serving),
            metrics: Metrics::default(),
        }
    }

    /// With whom to ask how the sources stand; without, it is not ready.
    #[must_use]
    pub fn with_sources(mut self, sources: AskSources) -> Self {
        self.sources = Some(sources);
        self
    }

    /// How the sources stand.
    pub(crate) async fn standings(&self, now: DateTime<Utc>) -> Result<Vec<SourceStanding>, StoreError> {
        match &self.sources {
            Some(ask) => ask(now).await,
            None => Ok(Vec::new()),
        }
    }

    /// Something was written to the store by this process: what is kept of it for a moment is made anew.
    pub fn written(&self) {
        self.finished.forget();
        self.clubs.forget();
    }

    /// The time it is.
    pub(crate) fn now(&self) -> DateTime<Utc> {
        (self.clock)()
    }
}
