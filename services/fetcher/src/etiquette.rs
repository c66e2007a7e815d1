//! What all sources of one process share over HTTP: the client, who is asking, how many requests run at once, and the
//! indexes that need not be sent again.
//!
//! Must not know: feeds, messages, runs.

use crate::retry::RetryLimits;
use std::collections::{HashMap, VecDeque};
use std::sync::{Arc, Mutex, OnceLock, PoisonError};
use std::time::Duration;
use tokio::sync::{Semaphore, SemaphorePermit};
use tokio::time::Instant;

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
    /// Requests to one host in any minute; none for as many as it answers. A feed's subset service has its own bound.
    pub per_minute: Option<u32>,
    /// A file that was changed less long ago, by its server's own clock, is left for the next pull: it may change again.
    pub settled_after: Duration,
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
            per_minute: None,
            settled_after: Duration::from_secs(120),
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
    overall: Semaphore,
    hosts: Mutex<HashMap<String, Arc<Host>>>,
    indexes: Mutex<HashMap<String, (String, String)>>,
}

/// What holds for one host.
#[derive(Debug)]
pub(crate) struct Host {
    /// Places for requests at once.
    places: Semaphore,
    /// Bound on requests in any minute, and when the last of them were sent.
    minute: tokio::sync::Mutex<(Option<u32>, VecDeque<Instant>)>,
}

impl Host {
    /// Waits until one more request may be sent and notes it.
    async fn wait_for_the_minute(&self) {
        let mut minute = self.minute.lock().await;
        let Some(most) = minute.0 else { return };
        while minute.1.len() >= most.max(1) as usize {
            if let Some(oldest) = minute.1.pop_front() {
                tokio::time::sleep_until(oldest + Duration::from_secs(60)).await;
            }
        }
        minute.1.push_back(Instant::now());
    }
}

/// Leave to send one request; it ends when this is dropped.
pub(crate) struct Turn<'a> {
    _host: SemaphorePermit<'a>,
    _overall: SemaphorePermit<'a>,
}

impl Default for Shared {
    fn default() -> Self {
        Self::new(HttpSettings::default())
    }
}

impl Shared {
    fn new(settings: HttpSettings) -> Self {
        Self {
            overall: Semaphore::new(settings.overall.max(1)),
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

    /// What holds for a host.
    pub(crate) fn host(&self, name: &str) -> Arc<Host> {
        let mut hosts = self.0.hosts.lock().unwrap_or_else(PoisonError::into_inner);
        let settings = &self.0.settings;
        let new = || {
            Arc::new(Host {
                places: Semaphore::new(settings.per_host.max(1)),
                minute: tokio::sync::Mutex::new((settings.per_minute, VecDeque::new())),
            })
        };
        Arc::clone(hosts.entry(name.to_owned()).or_insert_with(new))
    }

    /// Binds a host to so many requests in any minute, unless it is bound to fewer.
    pub(crate) async fn bind_to_minute(&self, host: &str, most: u32) {
        let host = self.host(host);
        let mut minute = host.minute.lock().await;
        minute.0 = Some(minute.0.map_or(most, |before| before.min(most)));
    }

    /// Waits for leave to send one request to a host; none when the program is ending.
    pub(crate) async fn turn<'a>(&'a self, host: &'a Host) -> Option<Turn<'a>> {
        let turn = Turn {
            _host: host.places.acquire().await.ok()?,
            _overall: self.0.overall.acquire().await.ok()?,
        };
        host.wait_for_the_minute().await;
        Some(turn)
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
pub fn in_full(error: &dyn std::error::Error) -> String {
    let mut words = error.to_string();
    let mut cause = error.source();
    while let Some(error) = cause {
        words = format!("{words}: {error}");
        cause = error.source();
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;

    // No source: arithmetic of the bound. The test's clock stands still but for what is slept.
    #[tokio::test(start_paused = true)]
    async fn no_minute_holds_more_requests_than_the_host_bears_with() {
        let http = HttpClient::new(HttpSettings::default());
        http.bind_to_minute("a", 5).await;
        http.bind_to_minute("a", 3).await;
        let (host, begin) = (http.host("a"), Instant::now());
        let mut sent = Vec::new();
        for _ in 0..8 {
            drop(http.turn(&host).await.unwrap());
            sent.push(begin.elapsed().as_secs());
            tokio::time::advance(Duration::from_secs(10)).await;
        }
        for four in sent.windows(4) {
            assert!(four[3] - four[0] >= 60, "{sent:?}");
        }
        let free = http.host("b");
        let before = Instant::now();
        for _ in 0..100 {
            drop(http.turn(&free).await.unwrap());
        }
        assert_eq!(before.elapsed(), Duration::ZERO);
    }
}
