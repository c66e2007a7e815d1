//! An answer with its validators: an ETag, and 304 where the caller holds the same already (RFC 9110, section 13).
//!
//! The tag is a weak one, as the same answer goes out in several content codings (RFC 9110, section 8.8.3.3).
//! The tag is a hash of build, language, media type and the bytes themselves. The bytes hold the identity of every
//! advisory in them, whether it is old and what the club has decided since, so a tag never outlives what it stands for.

use crate::cache::{self, Shared};
use axum::body::{Body, Bytes};
use axum::http::header::{CONTENT_LANGUAGE, CONTENT_TYPE, ETAG, IF_NONE_MATCH, LINK, VARY};
use axum::http::{HeaderMap, HeaderValue, StatusCode};
use axum::response::Response;
use chrono::{DateTime, Utc};
use sha2::{Digest, Sha256};

/// The language everything is written in.
const LANGUAGE: &str = "en";

/// How long an answer may be kept.
pub(crate) enum Keep {
    /// A minute, never past the first of these that is still to come.
    Until(DateTime<Utc>, Vec<DateTime<Utc>>),
    /// Asked for again each time.
    Never,
    /// As long as the style sheet.
    Release,
}

/// Bytes with their media type and validator. Cheap to clone.
#[derive(Clone)]
pub(crate) struct Tagged {
    /// Content-Type.
    content_type: &'static str,
    /// The bytes.
    pub bytes: Bytes,
    /// ETag.
    tag: HeaderValue,
}

impl Tagged {
    /// Made once for many answers.
    pub(crate) fn new(content_type: &'static str, body: Vec<u8>) -> Self {
        let mut hash = Sha256::new();
        for part in [env!("CARGO_PKG_VERSION"), LANGUAGE, content_type] {
            hash.update(part.as_bytes());
            hash.update([0]);
        }
        hash.update(&body);
        let digits: String = hash
            .finalize()
            .iter()
            .take(16)
            .map(|byte| format!("{byte:02x}"))
            .collect();
        Self {
            content_type,
            bytes: body.into(),
            // Hexadecimal digits in quotes are always fit for a header.
            tag: HeaderValue::try_from(format!("W/\"{digits}\""))
                .unwrap_or(HeaderValue::from_static("W/\"\"")),
        }
    }
}

/// Headers that an answer has at most, those of `around` among them: room for all of them is made at once.
const HEADERS: usize = 20;

/// An answer before its headers are written.
pub(crate) struct Answer {
    /// What is said.
    pub tagged: Tagged,
    /// How long it may be kept.
    pub keep: Keep,
    /// By whom.
    pub shared: Shared,
    /// It was chosen by Accept.
    pub negotiated: bool,
    /// The address of the next page, as the header Link says it.
    pub link: Option<HeaderValue>,
}

impl Answer {
    /// JSON that is the same whatever Accept says.
    pub(crate) fn json(body: Vec<u8>, keep: Keep, shared: Shared) -> Self {
        Self::of(Tagged::new("application/json", body), keep, shared)
    }

    /// In any form.
    pub(crate) fn of(tagged: Tagged, keep: Keep, shared: Shared) -> Self {
        Self {
            tagged,
            keep,
            shared,
            negotiated: false,
            link: None,
        }
    }

    /// As an answer to a request with these headers.
    pub(crate) fn to(self, asked: &HeaderMap) -> Response {
        let unchanged = holds(asked, &self.tagged.tag);
        let mut response = if unchanged {
            let mut response = Response::new(Body::empty());
            *response.status_mut() = StatusCode::NOT_MODIFIED;
            response.headers_mut().reserve(HEADERS);
            response
        } else {
            let mut response = Response::new(Body::from(self.tagged.bytes));
            let headers = response.headers_mut();
            headers.reserve(HEADERS);
            headers.insert(CONTENT_TYPE, HeaderValue::from_static(self.tagged.content_type));
            headers.insert(CONTENT_LANGUAGE, HeaderValue::from_static(LANGUAGE));
            response
        };
        let headers = response.headers_mut();
        headers.insert(ETAG, self.tagged.tag);
        if self.negotiated {
            headers.insert(VARY, HeaderValue::from_static("Accept"));
        }
        if let Some(link) = self.link {
            headers.insert(LINK, link);
        }
        match self.keep {
            Keep::Until(now, until) => cache::until_valid(response, now, until.into_iter(), self.shared),
            Keep::Never => cache::never_shared(response, self.shared),
            Keep::Release => cache::style(response),
        }
    }
}

/// Whether If-None-Match names the tag or any; the weak comparison of RFC 9110, section 8.8.3.2.
fn holds(asked: &HeaderMap, tag: &HeaderValue) -> bool {
    let opaque = |said: &[u8]| said.strip_prefix(b"W/").unwrap_or(said).to_owned();
    asked
        .get_all(IF_NONE_MATCH)
        .iter()
        .filter_map(|value| value.to_str().ok())
        .flat_map(|value| value.split(','))
        .map(str::trim)
        .any(|one| one == "*" || opaque(one.as_bytes()) == opaque(tag.as_bytes()))
}
