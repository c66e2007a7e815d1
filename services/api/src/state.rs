//! What every request may use.

use crate::clubs::Clubs;
use crate::finished::FinishedAnswers;
use crate::flight::Flights;
use crate::front::Front;
use crate::limits::Limits;
use crate::metrics::Metrics;
use crate::serving::Serving;
use crate::v1::ConditionsQuestion;
use advisor::{KeptPoint, WindowChoice, Windows};
use chrono::{DateTime, Utc};
use feeds::Catalogue;
use present::standing::SourceStanding;
use std::ops::Deref;
use std::pin::Pin;
use std::sync::{Arc, OnceLock};
use store::{Store, StoreError};

/// An answer to come: how the sources stand.
pub type Standings = Pin<Box<dyn Future<Output = Result<Vec<SourceStanding>, StoreError>> + Send>>;

/// Asks how the sources stand at a moment: where forecasts come from is not known here.
pub type AskSources = Arc<dyn Fn(DateTime<Utc>) -> Standings + Send + Sync>;

/// A club, the version of its file, and what is asked.
pub(crate) type WindowsQuestion = (String, String, WindowChoice);

/// Store, clock, club, and the sentence a demo says of itself. One counter to clone, as every request does it several times.
#[derive(Clone)]
pub struct ApiState(Arc<Within>);

/// What the state holds.
pub struct Within {
    pub(crate) store: Store,
    clock: Box<dyn Fn() -> DateTime<Utc> + Send + Sync>,
    pub(crate) club: Arc<str>,
    pub(crate) demo: Option<String>,
    sources: OnceLock<AskSources>,
    pub(crate) catalogue: Arc<Catalogue>,
    pub(crate) clubs: Clubs,
    pub(crate) serving: Serving,
    pub(crate) limits: Limits,
    /// How many addresses a client may still have asked by mail.
    pub(crate) asking: Limits,
    pub(crate) metrics: Metrics,
    pub(crate) finished: FinishedAnswers,
    pub(crate) front: Front,
    pub(crate) windows: Flights<WindowsQuestion, Windows>,
    pub(crate) conditions: Flights<ConditionsQuestion, Vec<KeptPoint>>,
    /// Whose turn it is to decide by the form.
    pub(crate) deciding: tokio::sync::Mutex<()>,
}

impl Deref for ApiState {
    type Target = Within;

    fn deref(&self) -> &Within {
        &self.0
    }
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
        Self(Arc::new(Within {
            store,
            clock: Box::new(clock),
            club: club.into(),
            demo,
            sources: OnceLock::new(),
            catalogue,
            clubs: Clubs::looked_at_every(serving.answers_kept_for),
            limits: Limits::a_minute(serving.requests_a_minute),
            asking: Limits::an_hour(serving.addresses_an_hour),
            finished: FinishedAnswers::for_a_while(serving.answers_kept_for),
            front: Front::for_a_while(serving.answers_kept_for),
            windows: Flights::default(),
            conditions: Flights::default(),
            deciding: tokio::sync::Mutex::default(),
            serving,
            metrics: Metrics::default(),
        }))
    }

    /// With whom to ask how the sources stand; without, it is not ready. The first one told counts.
    #[must_use]
    pub fn with_sources(self, sources: AskSources) -> Self {
        let _told_before = self.sources.set(sources);
        self
    }

    /// How the sources stand.
    pub(crate) async fn standings(&self, now: DateTime<Utc>) -> Result<Vec<SourceStanding>, StoreError> {
        match self.sources.get() {
            Some(ask) => ask(now).await,
            None => Ok(Vec::new()),
        }
    }

    /// Something was written to the store by this process: what is kept of it for a moment is made anew.
    pub fn written(&self) {
        self.finished.forget();
        self.front.forget();
        self.clubs.forget();
    }

    /// The time it is.
    pub(crate) fn now(&self) -> DateTime<Utc> {
        (self.clock)()
    }
}
