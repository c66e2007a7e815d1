//! An answer with its validators: a strong ETag, and 304 where the caller holds the same already (RFC 9110, section 13).
//!
//! The tag is a hash of build, language, media type and the bytes themselves. The bytes hold the identity of every
//! advisory in them, whether it is old and what the club has decided since, so a tag never outlives what it stands for.

use crate::cache::{self, Shared};
use axum::body::Body;
use axum::http::header::{CONTENT_LANGUAGE, CONTENT_TYPE, ETAG, IF_NONE_MATCH, LINK, VARY};
use axum::http::{HeaderMap, HeaderValue, StatusCode};
use axum::response::{IntoResponse, Response};
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

/// An answer before its headers are written.
pub(crate) struct Answer {
    /// Content-Type.
    pub content_type: &'static str,
    /// The bytes.
    pub body: Vec<u8>,
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
        Self {
            content_type: "application/json",
            body,
            keep,
            shared,
            negotiated: false,
            link: None,
        }
    }

    /// As an answer to a request with these headers.
    pub(crate) fn to(self, asked: &HeaderMap) -> Response {
        let tag = self.tag();
        let unchanged = holds(asked, &tag);
        let mut response = if unchanged {
            StatusCode::NOT_MODIFIED.into_response()
        } else {
            let mut response = Response::new(Body::from(self.body));
            let headers = response.headers_mut();
            headers.insert(CONTENT_TYPE, HeaderValue::from_static(self.content_type));
            headers.insert(CONTENT_LANGUAGE, HeaderValue::from_static(LANGUAGE));
            response
        };
        let headers = response.headers_mut();
        if let Ok(tag) = HeaderValue::try_from(tag) {
            headers.insert(ETAG, tag);
        }
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

    fn tag(&self) -> String {
        let mut hash = Sha256::new();
        for part in [env!("CARGO_PKG_VERSION"), LANGUAGE, self.content_type] {
            hash.update(part.as_bytes());
            hash.update([0]);
        }
        hash.update(&self.body);
        let digits: String = hash
            .finalize()
            .iter()
            .take(16)
            .map(|byte| format!("{byte:02x}"))
            .collect();
        format!("\"{digits}\"")
    }
}

/// Whether If-None-Match names the tag or any; the weak comparison of RFC 9110, section 8.8.3.2.
fn holds(asked: &HeaderMap, tag: &str) -> bool {
    asked
        .get_all(IF_NONE_MATCH)
        .iter()
        .filter_map(|value| value.to_str().ok())
        .flat_map(|value| value.split(','))
        .map(str::trim)
        .any(|one| one == "*" || one.strip_prefix("W/").unwrap_or(one) == tag)
}
