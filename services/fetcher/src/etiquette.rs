//! What all sources of one process share over HTTP: the client, who is asking, how many requests run at once, and the
//! indexes that need not be sent again.
//!
//! Must not know: feeds, messages, runs.

use crate::retry::RetryLimits;
use std::collections::HashMap;
use std::sync::{Arc, Mutex, OnceLock, PoisonError};
use std::time::Duration;
use tokio::sync::Semaphore;

/// Octets of indexes that are remembered; beyond them the memory begins anew.
const REMEMBERED_OCTETS: usize = 32_000_000;

/// How servers are asked.
#[derive(Clone, Debug)]
pub struct HttpSettings {
    /// The operator's address, told to the producers with each request.
    pub contact: Option<String>,
    /// Requests to one host at once.
    pub per_host: usize,
    /// Requests at once in all.
    pub overall: usize,
    /// Longest time to a connection.
    pub connect: Duration,
    /// Longest silence within a body.
    pub idle: Duration,
    /// Longest time of one request with its body.
    pub total: Duration,
    /// How faults that may pass are met.
    pub retry: RetryLimits,
}

impl Default for HttpSettings {
    fn default() -> Self {
        Self {
            contact: None,
            per_host: 4,
            overall: 8,
            connect: Duration::from_secs(10),
            idle: Duration::from_secs(30),
            total: Duration::from_secs(300),
            retry: RetryLimits::default(),
        }
    }
}

/// The HTTP side of this process. Clones share it; kept between pulls, it asks only for indexes that have changed.
#[derive(Clone, Debug, Default)]
pub struct HttpClient(Arc<Shared>);

#[derive(Debug)]
struct Shared {
    settings: HttpSettings,
    client: OnceLock<Result<reqwest::Client, String>>,
    overall: Arc<Semaphore>,
    hosts: Mutex<HashMap<String, Arc<Semaphore>>>,
    indexes: Mutex<HashMap<String, (String, String)>>,
}

impl Default for Shared {
    fn default() -> Self {
        Self::new(HttpSettings::default())
    }
}

impl Shared {
    fn new(settings: HttpSettings) -> Self {
        Self {
            overall: Arc::new(Semaphore::new(settings.overall.max(1))),
            settings,
            client: OnceLock::new(),
            hosts: Mutex::default(),
            indexes: Mutex::default(),
        }
    }
}

impl HttpClient {
    /// With these settings. No connection is opened.
    pub fn new(settings: HttpSettings) -> Self {
        Self(Arc::new(Shared::new(settings)))
    }

    pub(crate) fn settings(&self) -> &HttpSettings {
        &self.0.settings
    }

    /// The client, built with the first request. Redirects are answers, not followed: producers throttle with them.
    pub(crate) fn client(&self) -> Result<reqwest::Client, String> {
        self.0.client.get_or_init(|| build(&self.0.settings)).clone()
    }

    /// The places for requests to a host, and those for all.
    pub(crate) fn turns(&self, host: &str) -> [Arc<Semaphore>; 2] {
        let mut hosts = self.0.hosts.lock().unwrap_or_else(PoisonError::into_inner);
        let new = || Arc::new(Semaphore::new(self.0.settings.per_host.max(1)));
        [
            Arc::clone(hosts.entry(host.to_owned()).or_insert_with(new)),
            Arc::clone(&self.0.overall),
        ]
    }

    /// The entity tag and text of an index that was read before.
    pub(crate) fn remembered(&self, url: &str) -> Option<(String, String)> {
        self.0
            .indexes
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .get(url)
            .cloned()
    }

    pub(crate) fn remember(&self, url: &str, tag: String, text: String) {
        let mut indexes = self.0.indexes.lock().unwrap_or_else(PoisonError::into_inner);
        let held: usize = indexes.values().map(|(_, text)| text.len()).sum();
        if held + text.len() > REMEMBERED_OCTETS {
            indexes.clear();
        }
        indexes.insert(url.to_owned(), (tag, text));
    }
}

fn build(settings: &HttpSettings) -> Result<reqwest::Client, String> {
    let version = env!("CARGO_PKG_VERSION");
    let agent = match &settings.contact {
        Some(contact) => format!("cringle/{version} ({contact})"),
        None => format!("cringle/{version}"),
    };
    let roots = webpki_root_certs::TLS_SERVER_ROOT_CERTS.iter();
    let roots = roots.filter_map(|root| reqwest::Certificate::from_der(root).ok());
    reqwest::Client::builder()
        .user_agent(agent)
        .tls_certs_merge(roots)
        .redirect(reqwest::redirect::Policy::none())
        .connect_timeout(settings.connect)
        .read_timeout(settings.idle)
        .timeout(settings.total)
        .build()
        .map_err(|error| format!("no HTTP client can be made: {}", in_full(&error)))
}

/// An error with its causes in one line.
pub(crate) fn in_full(error: &dyn std::error::Error) -> String {
    let mut words = error.to_string();
    let mut cause = error.source();
    while let Some(error) = cause {
        words = format!("{words}: {error}");
        cause = error.source();
    }
    words
}
