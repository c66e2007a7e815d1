//! How long an answer may be kept. Handlers name a policy; the header is written here.

use axum::http::HeaderValue;
use axum::http::header::CACHE_CONTROL;
use axum::response::Response;
use chrono::{DateTime, Utc};

/// A newer advisory may be issued at any time: a page is asked for again after a minute.
const AT_MOST_SECONDS: i64 = 60;
/// The style sheet changes with a release only, but its address does not.
const STYLE_SECONDS: i64 = 300;

/// Until a minute has passed, never past the first `valid_until` still to come. An answer that holds a call already
/// old may be kept like any other: what it says of that call stays true.
pub(crate) fn until_valid(
    response: Response,
    now: DateTime<Utc>,
    valid_until: impl Iterator<Item = DateTime<Utc>>,
) -> Response {
    let left = valid_until
        .map(|until| (until - now).num_seconds())
        .filter(|seconds| *seconds >= 0);
    let seconds = left.min().unwrap_or(AT_MOST_SECONDS).min(AT_MOST_SECONDS);
    if seconds == 0 {
        never(response)
    } else {
        for_seconds(response, seconds)
    }
}

/// The style sheet's time.
pub(crate) fn style(response: Response) -> Response {
    for_seconds(response, STYLE_SECONDS)
}

/// Asked for again each time.
pub(crate) fn never(response: Response) -> Response {
    with(response, HeaderValue::from_static("no-cache"))
}

fn for_seconds(response: Response, seconds: i64) -> Response {
    match HeaderValue::try_from(format!("max-age={seconds}")) {
        Ok(value) => with(response, value),
        Err(_) => never(response),
    }
}

fn with(mut response: Response, value: HeaderValue) -> Response {
    response.headers_mut().insert(CACHE_CONTROL, value);
    response
}
