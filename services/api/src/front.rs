//! The same question asked by anyone again within a moment: answered before routes, tokens or the store are looked at.
//!
//! Owns: which requests are the same question, and for how long their answer serves. Must not know: what is answered. Only
//! what is public, is read without a token and goes out uncompressed comes here; `valid_until` is looked at each time.

use crate::answer::{Answer, Keep};
use crate::cache::Shared;
use crate::finished::Finished;
use axum::extract::Request;
use axum::http::Method;
use axum::http::header::{ACCEPT, ACCEPT_ENCODING, AUTHORIZATION};
use chrono::{DateTime, Utc};
use std::collections::HashMap;
use std::sync::{Arc, PoisonError, RwLock};
use std::time::Duration;

/// Questions kept, at most, and the longest of them, octets: a stranger chooses both.
const QUESTIONS_AT_MOST: usize = 4096;
const LONGEST_QUESTION: usize = 512;

/// An answer that serves everyone who asks the same. A handler leaves it beside its response.
#[derive(Clone)]
pub(crate) struct ForEveryone {
    pub finished: Arc<Finished>,
    /// It was chosen by Accept.
    pub negotiated: bool,
}

impl ForEveryone {
    /// As it is now.
    pub(crate) fn answer(&self, now: DateTime<Utc>) -> Answer {
        Answer {
            negotiated: self.negotiated,
            ..Answer::of(
                self.finished.tagged.clone(),
                Keep::Until(now, self.finished.until.clone()),
                Shared::Public,
            )
        }
    }
}

/// One that is kept, with the template of the route that gave it.
pub(crate) struct Found {
    answer: ForEveryone,
    route: String,
}

impl Found {
    /// As it is now.
    pub(crate) fn answer(&self, now: DateTime<Utc>) -> Answer {
        self.answer.answer(now)
    }

    /// For counting.
    pub(crate) fn route(&self) -> &str {
        &self.route
    }
}

/// Questions with their answers.
pub(crate) struct Front {
    kept: RwLock<HashMap<String, Arc<Found>>>,
    kept_for: Duration,
}

impl Front {
    /// For so long; for no time, nothing is kept.
    pub(crate) fn for_a_while(kept_for: Duration) -> Self {
        Self {
            kept: RwLock::default(),
            kept_for,
        }
    }

    /// What is asked, where the answer depends on nothing else: address and Accept.
    pub(crate) fn question(&self, request: &Request) -> Option<String> {
        let headers = request.headers();
        let plain = request.method() == Method::GET
            && !headers.contains_key(AUTHORIZATION)
            && !headers.contains_key(ACCEPT_ENCODING);
        if !plain || self.kept_for.is_zero() {
            return None;
        }
        let mut accepts = headers.get_all(ACCEPT).iter();
        let accept = match (accepts.next(), accepts.next()) {
            (None, _) => "",
            (Some(one), None) => one.to_str().ok()?,
            _ => return None,
        };
        let address = request.uri().path_and_query()?.as_str();
        // No header holds a line feed, and no address does.
        (address.len() + accept.len() < LONGEST_QUESTION).then(|| [address, accept].join("\n"))
    }

    /// The answer that still serves.
    pub(crate) fn find(&self, question: &str, now: DateTime<Utc>) -> Option<Arc<Found>> {
        let kept = self.kept.read().unwrap_or_else(PoisonError::into_inner);
        let found = kept.get(question)?;
        let stands = found.answer.finished.stands(now, self.kept_for);
        stands.then(|| found.clone())
    }

    /// Keeps one; room is made by dropping all.
    pub(crate) fn keep(&self, question: String, answer: ForEveryone, route: &str) {
        let mut kept = self.kept.write().unwrap_or_else(PoisonError::into_inner);
        if kept.len() >= QUESTIONS_AT_MOST {
            kept.clear();
        }
        let route = route.to_owned();
        kept.insert(question, Arc::new(Found { answer, route }));
    }

    /// Something was written: all is made anew.
    pub(crate) fn forget(&self) {
        self.kept.write().unwrap_or_else(PoisonError::into_inner).clear();
    }
}
