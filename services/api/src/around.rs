//! What stands around every route: security headers, request ids, the account in log and metrics, limits, time.
//!
//! Owns: the order of the layers. Must not know: what any route answers. A log line holds the route's template, never the
//! path or the query: names of sessions are nobody's business there, tokens even less.

use crate::ApiState;
use crate::client::{address, counted_as};
use crate::metrics::Metrics;
use crate::problem::ApiError;
use axum::Router;
use axum::extract::{DefaultBodyLimit, MatchedPath, Request, State};
use axum::http::header::{
    ACCESS_CONTROL_ALLOW_HEADERS, ACCESS_CONTROL_ALLOW_METHODS, ACCESS_CONTROL_ALLOW_ORIGIN,
    ACCESS_CONTROL_EXPOSE_HEADERS, ACCESS_CONTROL_MAX_AGE, ACCESS_CONTROL_REQUEST_METHOD,
    CONTENT_SECURITY_POLICY, ETAG, HeaderName, REFERRER_POLICY, VARY, X_CONTENT_TYPE_OPTIONS,
};
use axum::http::{HeaderMap, HeaderValue, Method, StatusCode};
use axum::middleware::{Next, from_fn_with_state};
use axum::response::{IntoResponse, Response};
use std::any::Any;
use std::sync::LazyLock;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Instant, SystemTime};
use tower::ServiceBuilder;
use tower_http::catch_panic::CatchPanicLayer;
use tower_http::compression::predicate::{DefaultPredicate, Predicate};
use tower_http::compression::{CompressionLayer, CompressionLevel};

/// Nothing is loaded but our own style sheet and pictures; nothing runs; other sites may not frame a page.
const POLICY: &str = "default-src 'none'; style-src 'self'; img-src 'self' data:; base-uri 'none'; \
    form-action 'self'; frame-ancestors 'self'";

/// On every answer, errors too. Other sites may read; they may not write, and nothing is sent along for the person who
/// looks at them.
const ALWAYS: [(HeaderName, &str); 5] = [
    (ACCESS_CONTROL_ALLOW_ORIGIN, "*"),
    (
        ACCESS_CONTROL_EXPOSE_HEADERS,
        "etag, link, location, retry-after, x-request-id",
    ),
    (CONTENT_SECURITY_POLICY, POLICY),
    (X_CONTENT_TYPE_OPTIONS, "nosniff"),
    (REFERRER_POLICY, "same-origin"),
];

const REQUEST_ID: HeaderName = HeaderName::from_static("x-request-id");
/// Longest request id that is taken from a client.
const REQUEST_ID_AT_MOST: usize = 64;

/// The routes with all that stands around them, the outermost first.
pub(crate) fn around(routes: Router<ApiState>, state: &ApiState) -> Router<ApiState> {
    // One stack: each `Router::layer` of its own would cost every request a box.
    let stack = ServiceBuilder::new()
        .layer(from_fn_with_state(state.clone(), guarded))
        .layer(CatchPanicLayer::custom(|_: Box<dyn Any + Send>| {
            ApiError::Stopped.into_response()
        }))
        .layer(compression());
    routes
        .layer(DefaultBodyLimit::max(state.serving.largest_body))
        .layer(stack)
}

/// Only what carries no strong validator: that one stands for the very bytes (RFC 9110, section 8.8.1).
fn compression() -> CompressionLayer<impl Predicate> {
    let without_strong_tag = |_: StatusCode, _, headers: &HeaderMap, _: &axum::http::Extensions| {
        headers
            .get(ETAG)
            .is_none_or(|tag| tag.as_bytes().starts_with(b"W/"))
    };
    CompressionLayer::new()
        .quality(CompressionLevel::Fastest)
        .compress_when(DefaultPredicate::new().and(without_strong_tag))
}

/// What a browser is told that asks on another site's behalf (Fetch standard, "CORS-preflight request").
fn preflight() -> Response {
    let told = [
        (ACCESS_CONTROL_ALLOW_METHODS, "GET, HEAD"),
        (
            ACCESS_CONTROL_ALLOW_HEADERS,
            "accept, authorization, if-none-match",
        ),
        (ACCESS_CONTROL_MAX_AGE, "3600"),
    ];
    (StatusCode::NO_CONTENT, told).into_response()
}

/// A request's name, its line in the log, what is counted of it, its limits, and the headers of every answer.
async fn guarded(State(state): State<ApiState>, request: Request, next: Next) -> Response {
    let began = Instant::now();
    let route = request.extensions().get::<MatchedPath>().cloned();
    let route = route.as_ref().map_or("none", MatchedPath::as_str);
    let method = request.method().clone();
    let id = taken_id(request.headers()).unwrap_or_else(new_id);
    // Ended even where the client is gone before its answer is made.
    let at_hand = AtHand::begin(&state);
    let mut response = match admitted(&state, &request) {
        Ok(()) if is_preflight(&request) => preflight(),
        Ok(()) => answered(&state, request, next).await,
        Err(refused) => refused.into_response(),
    };
    drop(at_hand);
    let (status, took) = (response.status(), began.elapsed());
    state.metrics.answered(route, &method, status, took);
    let (id_words, ms) = (id.to_str().unwrap_or_default(), took.as_secs_f64() * 1000.0);
    if status.is_server_error() {
        tracing::warn!(request.id = id_words, %method, route, status = status.as_u16(), ms, "request failed");
    } else {
        tracing::debug!(request.id = id_words, %method, route, status = status.as_u16(), ms, "request");
    }
    let headers = response.headers_mut();
    headers.insert(REQUEST_ID, id);
    for (name, value) in ALWAYS {
        headers.insert(name, HeaderValue::from_static(value));
    }
    response
}

fn is_preflight(request: &Request) -> bool {
    request.method() == Method::OPTIONS && request.headers().contains_key(ACCESS_CONTROL_REQUEST_METHOD)
}

/// By what was just answered to the same question, or by the routes.
async fn answered(state: &ApiState, request: Request, next: Next) -> Response {
    let Some(question) = state.front.question(&request) else {
        return in_time(state, request, next).await;
    };
    if let Some(answer) = state.front.answer(&question, state.now()) {
        let mut response = answer.to(request.headers());
        // As the layer that compresses says it of what it lets pass.
        response
            .headers_mut()
            .append(VARY, HeaderValue::from_static("accept-encoding"));
        return response;
    }
    let mut response = in_time(state, request, next).await;
    if let Some(answer) = response.extensions_mut().remove() {
        state.front.keep(question, answer);
    }
    response
}

struct AtHand<'a>(&'a Metrics);

impl<'a> AtHand<'a> {
    fn begin(state: &'a ApiState) -> Self {
        state.metrics.begun();
        Self(&state.metrics)
    }
}

impl Drop for AtHand<'_> {
    fn drop(&mut self) {
        self.0.ended();
    }
}

/// The id that the client gave, where it is short and plain.
fn taken_id(headers: &HeaderMap) -> Option<HeaderValue> {
    let given = headers.get(REQUEST_ID)?;
    let plain = |octet: &u8| octet.is_ascii_alphanumeric() || matches!(octet, b'-' | b'_' | b'.');
    let fits = !given.is_empty() && given.len() <= REQUEST_ID_AT_MOST && given.as_bytes().iter().all(plain);
    fits.then(|| given.clone())
}

/// The second in which the process began, and a number: a later process does not repeat it.
fn new_id() -> HeaderValue {
    static COUNTED: AtomicU64 = AtomicU64::new(1);
    static BEGAN: LazyLock<u64> = LazyLock::new(|| {
        let since_1970 = SystemTime::now().duration_since(SystemTime::UNIX_EPOCH);
        since_1970.map_or(0, |since| since.as_secs())
    });
    let number = COUNTED.fetch_add(1, Ordering::Relaxed);
    // Digits and a hyphen are always fit for a header.
    HeaderValue::try_from(format!("{:x}-{number}", *BEGAN)).unwrap_or(HeaderValue::from(number))
}

/// Health and readiness are asked for by machines that must not be turned away.
fn admitted(state: &ApiState, request: &Request) -> Result<(), ApiError> {
    let exempt = matches!(request.uri().path(), "/healthz" | "/readyz" | "/metrics");
    let client = address(request.extensions(), request.headers(), &state.serving);
    match client.filter(|_| !exempt) {
        Some(client) => state.limits.take(counted_as(client)).map_err(|wait| {
            state.metrics.refused();
            ApiError::TooOften { wait }
        }),
        None => Ok(()),
    }
}

async fn in_time(state: &ApiState, request: Request, next: Next) -> Response {
    match tokio::time::timeout(state.serving.answer_within, next.run(request)).await {
        Ok(response) => response,
        Err(_) => ApiError::TooSlow.into_response(),
    }
}
