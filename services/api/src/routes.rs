//! The pages of the club of this service, and how the service itself is: one short handler a route.

use crate::caller::Caller;
use crate::extract::InPath;
use crate::media::Media;
use crate::problem::ApiError;
use crate::serving::MetricsFor;
use crate::{ApiState, cache, client, documents, forms, mail, metrics};
use axum::extract::State;
use axum::http::header::CONTENT_TYPE;
use axum::http::{Extensions, HeaderMap, StatusCode};
use axum::response::{IntoResponse, Response};
use present::html;
use present::standing::any_usable;

/// `GET /`: the board.
pub(crate) async fn board(
    State(state): State<ApiState>,
    caller: Caller,
    asked: HeaderMap,
) -> Result<Response, ApiError> {
    let shared = documents::pages_for(&state, &caller).await?;
    forms::board(&state, shared, &asked).await
}

/// `GET /sessions/{id}`: the page of a session.
pub(crate) async fn session(
    State(state): State<ApiState>,
    caller: Caller,
    InPath(id): InPath<String>,
    asked: HeaderMap,
) -> Result<Response, ApiError> {
    let shared = documents::session_page_for(&state, &caller, &id).await?;
    let slug = state.club.to_string();
    forms::of_session(&state, slug, id, Media::Html, (shared, false), &asked).await
}

/// `GET /style.css`.
pub(crate) async fn style() -> Response {
    let response = ([(CONTENT_TYPE, "text/css; charset=utf-8")], html::STYLE).into_response();
    cache::style(response)
}

/// `GET /healthz`: the process answers.
pub(crate) async fn health() -> Response {
    cache::never("ok\n".into_response())
}

/// `GET /readyz`: whether there is data to answer from, what is stale and why, source by source, and how the mail stands. 503 if no source is of use.
pub(crate) async fn readiness(State(state): State<ApiState>) -> Result<Response, ApiError> {
    let now = state.now();
    let sources = state.standings(now).await?;
    let ready = any_usable(&sources);
    let status = if ready {
        StatusCode::OK
    } else {
        StatusCode::SERVICE_UNAVAILABLE
    };
    let body = serde_json::json!({
        "ready": ready,
        "why": (!ready).then_some("no source has data that can be used"),
        "at": now,
        "sources": sources,
        "mail": mail::in_json(&state.store.mail_standing().await?),
    });
    let json = [(CONTENT_TYPE, "application/json")];
    Ok(cache::never((status, json, body.to_string()).into_response()))
}

/// `GET /metrics`: what is counted (OpenMetrics). For others than those it is meant for there is no such page.
pub(crate) async fn metrics(
    State(state): State<ApiState>,
    extensions: Extensions,
    asked: HeaderMap,
) -> Result<Response, ApiError> {
    let meant_for = match state.serving.metrics {
        MetricsFor::Local => client::is_local(&extensions, &asked),
        MetricsFor::Everyone => true,
        MetricsFor::Nobody => false,
    };
    if !meant_for {
        return Err(ApiError::NoSuchPage);
    }
    let now = state.now();
    let sources = state.standings(now).await?;
    let mail = state.store.mail_standing().await?;
    let text = state
        .metrics
        .text(&sources, &mail, now)
        .map_err(ApiError::Metrics)?;
    Ok(cache::never(
        ([(CONTENT_TYPE, metrics::CONTENT_TYPE)], text).into_response(),
    ))
}

/// Any other address.
pub(crate) async fn unknown() -> ApiError {
    ApiError::NoSuchPage
}

/// Any other method.
pub(crate) async fn wrong_method() -> ApiError {
    ApiError::WrongMethod
}
