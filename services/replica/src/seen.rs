//! What was asked of the replica and what it answered, for tests and benchmarks to read.

use crate::request::Request;
use chrono::{DateTime, Utc};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

/// One request and its answer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Seen {
    /// When, by the replica's clock.
    pub at: DateTime<Utc>,
    /// `GET`, `HEAD` or what else was tried.
    pub method: String,
    /// Path, decoded, without the query.
    pub path: String,
    /// Query as it came.
    pub query: Option<String>,
    /// All headers of the request, names in lower case.
    pub headers: Vec<(String, String)>,
    /// Status of the answer; 0 where the connection was closed unanswered.
    pub status: u16,
    /// Octets of the body sent by now.
    pub body_octets: u64,
}

impl Seen {
    /// The value of a request's header, by its name in lower case.
    pub fn header(&self, name: &str) -> Option<&str> {
        let found = self.headers.iter().find(|(known, _)| known == name);
        found.map(|(_, value)| value.as_str())
    }
}

/// Counts the octets of one body as they leave.
pub(crate) type Sent = Arc<AtomicU64>;

#[derive(Default)]
pub(crate) struct Log(Mutex<Vec<(Seen, Sent)>>);

impl Log {
    pub fn add(&self, at: DateTime<Utc>, request: Request, status: u16) -> Sent {
        let seen = Seen {
            at,
            method: request.method,
            path: request.path,
            query: request.query,
            headers: request.headers,
            status,
            body_octets: 0,
        };
        let sent = Sent::default();
        let mut log = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        log.push((seen, Arc::clone(&sent)));
        sent
    }

    pub fn all(&self) -> Vec<Seen> {
        let log = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let with_octets = |(seen, sent): &(Seen, Sent)| Seen {
            body_octets: sent.load(Ordering::Relaxed),
            ..seen.clone()
        };
        log.iter().map(with_octets).collect()
    }

    pub fn forget(&self) {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).clear();
    }
}
