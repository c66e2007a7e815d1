//! The service that answers: board, session page, and the API under `/v1` with its description.
//!
//! Owns: routes, status codes, cache and security headers, problem details. Is given: a store, a clock, a club's short
//! name. Must not know: GRIB, where forecasts come from, how a call is made; it issues nothing.

mod answer;
mod body;
mod cache;
mod calendar;
mod caller;
mod club_file;
mod clubs;
mod documents;
mod extract;
mod media;
mod paging;
mod precondition;
mod problem;
mod routes;
mod state;
mod v1;

pub use state::{ApiState, AskSources, Standings};

use axum::Router;
use axum::http::HeaderValue;
use axum::http::header::{CONTENT_SECURITY_POLICY, HeaderName, REFERRER_POLICY, X_CONTENT_TYPE_OPTIONS};
use axum::middleware::map_response;
use axum::response::Response;
use axum::routing::get;
use std::io;
use tokio::net::TcpListener;

/// Nothing is loaded but our own style sheet and pictures; nothing runs; other sites may not frame a page.
const POLICY: &str = "default-src 'none'; style-src 'self'; img-src 'self' data:; base-uri 'none'; \
    form-action 'self'; frame-ancestors 'self'";

/// All routes with their headers.
pub fn router(state: ApiState) -> Router {
    Router::new()
        .route("/", get(routes::board))
        .route("/sessions/{id}", get(routes::session))
        .route("/style.css", get(routes::style))
        .route("/healthz", get(routes::health))
        .route("/readyz", get(routes::readiness))
        .merge(v1::router())
        .fallback(routes::unknown)
        .method_not_allowed_fallback(routes::wrong_method)
        .layer(map_response(with_security_headers))
        .with_state(state)
}

/// Answers on a listener until `shutdown` is done, then lets the requests at hand finish.
///
/// # Errors
/// What the listener gives when it can no longer accept connections.
pub async fn serve(
    listener: TcpListener,
    state: ApiState,
    shutdown: impl Future<Output = ()> + Send + 'static,
) -> io::Result<()> {
    axum::serve(listener, router(state))
        .with_graceful_shutdown(shutdown)
        .await
}

async fn with_security_headers(mut response: Response) -> Response {
    let set: [(HeaderName, &'static str); 3] = [
        (CONTENT_SECURITY_POLICY, POLICY),
        (X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (REFERRER_POLICY, "same-origin"),
    ];
    for (name, value) in set {
        response
            .headers_mut()
            .insert(name, HeaderValue::from_static(value));
    }
    response
}
