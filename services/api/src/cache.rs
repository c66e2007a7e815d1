//! How long an answer may be kept. Handlers name a policy; the header is written here.

use axum::http::HeaderValue;
use axum::http::header::{CACHE_CONTROL, VARY};
use axum::response::Response;
use chrono::{DateTime, Utc};

/// A newer advisory may be issued at any time: a page is asked for again after a minute.
const AT_MOST_SECONDS: i64 = 60;
/// The style sheet and the API's description change with a release only, but their addresses do not.
const STYLE_SECONDS: i64 = 300;
/// A cache that cannot reach the service may go on for this long, but never past a `valid_until`.
const IF_ERROR_SECONDS: i64 = 3600;

/// Who may keep an answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Shared {
    /// Any cache on the way.
    Public,
    /// Only the caller's own: the club is not for everyone.
    Private,
}

/// Until a minute has passed, never past the first `valid_until` still to come: fresh and stale time together end there
/// (RFC 5861 counts `stale-if-error` from the end of `max-age`). An answer that holds a call already old may be kept
/// like any other: what it says of that call stays true.
pub(crate) fn until_valid(
    response: Response,
    now: DateTime<Utc>,
    valid_until: impl Iterator<Item = DateTime<Utc>>,
    shared: Shared,
) -> Response {
    let left = valid_until
        .map(|until| (until - now).num_seconds())
        .filter(|seconds| *seconds >= 0)
        .min();
    let fresh = left.unwrap_or(AT_MOST_SECONDS).min(AT_MOST_SECONDS);
    if fresh == 0 {
        return never_shared(response, shared);
    }
    let if_error = left.map_or(0, |left| (left - fresh).min(IF_ERROR_SECONDS));
    let whose = match shared {
        Shared::Public => "",
        Shared::Private => "private, ",
    };
    let response = match shared {
        Shared::Public => response,
        Shared::Private => by_caller(response),
    };
    let value = match if_error {
        0 => format!("{whose}max-age={fresh}"),
        more => format!("{whose}max-age={fresh}, stale-if-error={more}"),
    };
    with_text(response, &value)
}

/// The style sheet's time.
pub(crate) fn style(response: Response) -> Response {
    with_text(response, &format!("max-age={STYLE_SECONDS}"))
}

/// Asked for again each time.
pub(crate) fn never(response: Response) -> Response {
    with(response, HeaderValue::from_static("no-cache"))
}

/// Kept by no cache at all.
pub(crate) fn not_stored(response: Response) -> Response {
    with(response, HeaderValue::from_static("no-store"))
}

/// Asked for again each time, and kept by nobody but the caller where the club is not for everyone.
pub(crate) fn never_shared(response: Response, shared: Shared) -> Response {
    match shared {
        Shared::Public => never(response),
        Shared::Private => with(by_caller(response), HeaderValue::from_static("private, no-cache")),
    }
}

/// Another caller may be answered otherwise: what is kept is given to the same one only (RFC 9110, section 12.5.5).
pub(crate) fn by_caller(mut response: Response) -> Response {
    let by = HeaderValue::from_static("Authorization");
    response.headers_mut().append(VARY, by);
    response
}

fn with_text(response: Response, value: &str) -> Response {
    match HeaderValue::try_from(value) {
        Ok(value) => with(response, value),
        Err(_) => never(response),
    }
}

fn with(mut response: Response, value: HeaderValue) -> Response {
    response.headers_mut().insert(CACHE_CONTROL, value);
    response
}
