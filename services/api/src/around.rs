//! What stands around every route: security headers, request ids, the account in log and metrics, limits, time.
//!
//! Owns: the order of the layers. Must not know: what any route answers. A log line holds the route's template, never the
//! path or the query: names of sessions are nobody's business there, tokens even less.

use crate::ApiState;
use crate::client::{address, counted_as};
use crate::front::ForEveryone;
use crate::metrics::Metrics;
use crate::problem::ApiError;
use crate::problem_page::{for_people, is_wanted};
use axum::Router;
use axum::extract::{DefaultBodyLimit, MatchedPath, Request, State};
use axum::http::header::{
    ACCESS_CONTROL_ALLOW_HEADERS, ACCESS_CONTROL_ALLOW_METHODS, ACCESS_CONTROL_ALLOW_ORIGIN,
    ACCESS_CONTROL_EXPOSE_HEADERS, ACCESS_CONTROL_MAX_AGE, ACCESS_CONTROL_REQUEST_METHOD,
    CONTENT_SECURITY_POLICY, DATE, ETAG, HeaderName, REFERRER_POLICY, VARY, X_CONTENT_TYPE_OPTIONS,
};
use axum::http::{HeaderMap, HeaderValue, Method, StatusCode};
use axum::middleware::{Next, from_fn_with_state};
use axum::response::{IntoResponse, Response};
use chrono::{DateTime, Utc};
use std::any::Any;
use std::sync::LazyLock;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Instant, SystemTime};
use tower::{ServiceBuilder, ServiceExt};
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
        "age, date, etag, link, location, retry-after, x-request-id",
    ),
    (CONTENT_SECURITY_POLICY, POLICY),
    (X_CONTENT_TYPE_OPTIONS, "nosniff"),
    (REFERRER_POLICY, "same-origin"),
];

/// The end of the years that a date of HTTP can name, in seconds from 1970 on: 10000-01-01.
const DATES_END: i64 = 253_402_300_800;
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

/// Answers a request: by what was just answered to the same question, before any route is looked for; or by the routes, which
/// are those of [`crate::router`] over the same state.
pub async fn served(state: &ApiState, routes: Router, request: Request) -> Response {
    if let Some(response) = at_the_front(state, &request) {
        return response;
    }
    let Ok(response) = routes.oneshot(request).await;
    response
}

fn at_the_front(state: &ApiState, request: &Request) -> Option<Response> {
    let began = Instant::now();
    let question = state.front.question(request)?;
    let found = state.front.find(&question, state.now())?;
    let response = match admitted(state, request) {
        Ok(()) => {
            let mut response = found.answer(state.now()).to(request.headers());
            // As the layer that compresses says it of what it lets pass.
            let varies = HeaderValue::from_static("accept-encoding");
            response.headers_mut().append(VARY, varies);
            response
        }
        Err(refused) => for_people(state, is_wanted(request), refused.into_response()),
    };
    let name = taken_id(request.headers()).unwrap_or_else(new_id);
    Some(accounted(
        state,
        (found.route(), request.method(), began, name),
        response,
    ))
}

/// A request's limits, its answer, and what is told of both.
async fn guarded(State(state): State<ApiState>, request: Request, next: Next) -> Response {
    let began = Instant::now();
    let route = request.extensions().get::<MatchedPath>().cloned();
    let (method, wants_page) = (request.method().clone(), is_wanted(&request));
    let name = taken_id(request.headers()).unwrap_or_else(new_id);
    // Ended even where the client is gone before its answer is made.
    let at_hand = AtHand::begin(&state);
    let response = match admitted(&state, &request) {
        Ok(()) if is_preflight(&request) => preflight(),
        Ok(()) => answered(&state, request, route.as_ref(), next).await,
        Err(refused) => refused.into_response(),
    };
    drop(at_hand);
    let response = for_people(&state, wants_page, response);
    let route = route.as_ref().map_or("none", MatchedPath::as_str);
    accounted(&state, (route, &method, began, name), response)
}

/// Counts the answer, writes its line in the log, and gives it its name and the headers that every answer has.
fn accounted(
    state: &ApiState,
    (route, method, began, name): (&str, &Method, Instant, HeaderValue),
    mut response: Response,
) -> Response {
    let (status, took) = (response.status(), began.elapsed());
    state.metrics.answered(route, method, status, took);
    let (id, ms) = (name.to_str().unwrap_or_default(), took.as_secs_f64() * 1000.0);
    if status.is_server_error() {
        tracing::warn!(request.id = id, %method, route, status = status.as_u16(), ms, "request failed");
    } else {
        tracing::debug!(request.id = id, %method, route, status = status.as_u16(), ms, "request");
    }
    let headers = response.headers_mut();
    headers.insert(REQUEST_ID, name);
    if let Some(date) = date_of(state.now()) {
        headers.insert(DATE, date);
    }
    for (name, value) in ALWAYS {
        // A card has a policy of its own.
        headers.entry(name).or_insert(HeaderValue::from_static(value));
    }
    response
}

/// The date as headers have it (RFC 9110, section 5.6.7). It is told by the clock that calls grow old by.
fn date_of(now: DateTime<Utc>) -> Option<HeaderValue> {
    let can_be_named = (0..DATES_END).contains(&now.timestamp());
    let words = can_be_named.then(|| httpdate::fmt_http_date(now.into()))?;
    HeaderValue::try_from(words).ok()
}

fn is_preflight(request: &Request) -> bool {
    request.method() == Method::OPTIONS && request.headers().contains_key(ACCESS_CONTROL_REQUEST_METHOD)
}

/// By the routes; what serves everyone is kept for the next who asks the same.
async fn answered(state: &ApiState, request: Request, route: Option<&MatchedPath>, next: Next) -> Response {
    let question = state.front.question(&request);
    let mut response = in_time(state, request, next).await;
    let for_everyone = response.extensions_mut().remove::<ForEveryone>();
    if let (Some(question), Some(answer), Some(route)) = (question, for_everyone, route) {
        state.front.keep(question, answer, route.as_str());
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
