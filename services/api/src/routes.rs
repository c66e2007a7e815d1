//! The pages of the club of this service, and how the service itself is: one short handler a route.

use crate::answer::{Answer, Keep};
use crate::cache::Shared;
use crate::caller::Caller;
use crate::extract::InPath;
use crate::problem::ApiError;
use crate::{ApiState, cache, documents};
use advisory::document::ClubName;
use axum::extract::State;
use axum::http::header::CONTENT_TYPE;
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Response};
use chrono::{DateTime, Utc};
use present::html;
use present::standing::any_usable;

/// `GET /`: the board.
pub(crate) async fn board(
    State(state): State<ApiState>,
    caller: Caller,
    asked: HeaderMap,
) -> Result<Response, ApiError> {
    let now = state.now();
    let shared = documents::pages_for(&state, &caller).await?;
    let advisories = documents::of_the_board(&state, now).await?;
    let club = advisories
        .first()
        .map_or_else(|| only_slug(&state), |advisory| advisory.club.clone());
    let decisions = documents::decisions(&state, &state.club, now).await?;
    let page = html::board(&club, &advisories, &decisions, now, state.demo.as_deref())?;
    let until = advisories.iter().map(|advisory| advisory.valid_until.to_utc());
    Ok(page_of(page, now, until.collect(), shared).to(&asked))
}

/// `GET /sessions/{id}`: the page of a session.
pub(crate) async fn session(
    State(state): State<ApiState>,
    caller: Caller,
    InPath(id): InPath<String>,
    asked: HeaderMap,
) -> Result<Response, ApiError> {
    let now = state.now();
    let shared = documents::pages_for(&state, &caller)
        .await
        .map_err(|error| match error {
            ApiError::NoSuchPage => documents::no_such_session(&id),
            other => other,
        })?;
    let issue = documents::of_a_session(&state, &state.club, &id).await?;
    let advisory = documents::read(&issue.document)?;
    let decisions = documents::decisions(&state, &state.club, now).await?;
    let page = html::session(&advisory, &decisions, now, state.demo.as_deref())?;
    Ok(page_of(page, now, vec![advisory.valid_until.to_utc()], shared).to(&asked))
}

fn page_of(page: String, now: DateTime<Utc>, until: Vec<DateTime<Utc>>, shared: Shared) -> Answer {
    Answer {
        content_type: "text/html; charset=utf-8",
        ..Answer::json(page.into_bytes(), Keep::Until(now, until), shared)
    }
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

/// `GET /readyz`: whether there is data to answer from, and what is stale and why, source by source. 503 if no source is of use.
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
    });
    let json = [(CONTENT_TYPE, "application/json")];
    Ok(cache::never((status, json, body.to_string()).into_response()))
}

/// Any other address.
pub(crate) async fn unknown() -> ApiError {
    ApiError::NoSuchPage
}

/// Any other method.
pub(crate) async fn wrong_method() -> ApiError {
    ApiError::WrongMethod
}

/// The club of an empty board: no document tells its full name.
fn only_slug(state: &ApiState) -> ClubName {
    ClubName {
        slug: state.club.to_string(),
        name: state.club.to_string(),
        time_zone: String::new(),
        contact: None,
    }
}
