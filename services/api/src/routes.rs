//! One short handler a route: extract, ask, answer.

use crate::problem::ApiError;
use crate::{ApiState, cache, documents};
use advisory::document::ClubName;
use axum::extract::rejection::PathRejection;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::http::header::CONTENT_TYPE;
use axum::response::{Html, IntoResponse, Response};
use present::html;
use present::standing::any_usable;

type SessionId = Result<Path<String>, PathRejection>;

/// `GET /`: the board.
pub(crate) async fn board(State(state): State<ApiState>) -> Result<Response, ApiError> {
    let now = state.now();
    let advisories = documents::of_the_board(&state, now).await?;
    let club = advisories
        .first()
        .map_or_else(|| only_slug(&state), |advisory| advisory.club.clone());
    let decisions = documents::decisions(&state, now).await?;
    let page = html::board(&club, &advisories, &decisions, now, state.demo.as_deref())?;
    let until = advisories.iter().map(|advisory| advisory.valid_until.to_utc());
    Ok(cache::until_valid(Html(page).into_response(), now, until))
}

/// `GET /sessions/{id}`: the page of a session.
pub(crate) async fn session(State(state): State<ApiState>, id: SessionId) -> Result<Response, ApiError> {
    let now = state.now();
    let advisory = documents::read(&documents::of_a_session(&state, &named(id)?).await?)?;
    let decisions = documents::decisions(&state, now).await?;
    let page = html::session(&advisory, &decisions, now, state.demo.as_deref())?;
    let until = std::iter::once(advisory.valid_until.to_utc());
    Ok(cache::until_valid(Html(page).into_response(), now, until))
}

/// `GET /v1/sessions/{id}/advisory`: the document, byte for byte as it was issued.
pub(crate) async fn advisory(State(state): State<ApiState>, id: SessionId) -> Result<Response, ApiError> {
    let now = state.now();
    let document = documents::of_a_session(&state, &named(id)?).await?;
    let until = std::iter::once(documents::read(&document)?.valid_until.to_utc());
    let response = ([(CONTENT_TYPE, "application/json")], document).into_response();
    Ok(cache::until_valid(response, now, until))
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

fn named(id: SessionId) -> Result<String, ApiError> {
    id.map(|Path(id)| id).map_err(|_| ApiError::UnreadableName)
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
