//! `/embed/sessions/{id}` and `/embed/next`: the card of one session, which any site may frame.

use crate::answer::{Answer, Keep, Tagged};
use crate::cache::{self, Shared};
use crate::caller::Caller;
use crate::extract::{Asked, InPath};
use crate::media::Media;
use crate::problem::ApiError;
use crate::{ApiState, documents};
use advisory::Advisory;
use axum::extract::State;
use axum::http::header::{CONTENT_SECURITY_POLICY, CONTENT_TYPE};
use axum::http::{HeaderMap, HeaderValue, StatusCode};
use axum::response::{IntoResponse, Response};
use chrono::{DateTime, Utc};
use present::html::{self, CardOf};
use serde::Deserialize;

/// As every page's, but any site may frame it, and our own script runs in it and asks our own service.
const POLICY: &str = "default-src 'none'; style-src 'self'; script-src 'self'; connect-src 'self'; base-uri 'none'; \
    form-action 'none'; frame-ancestors *";

/// Which is the next session.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct NextQuery {
    boat: Option<String>,
    level: Option<String>,
    venue: Option<String>,
}

/// `GET /embed/sessions/{id}`.
pub(crate) async fn of_session(
    State(state): State<ApiState>,
    caller: Caller,
    InPath(id): InPath<String>,
    asked: HeaderMap,
) -> Result<Response, ApiError> {
    let of = CardOf {
        club: state.club.to_string(),
        session: Some(id.clone()),
        ..CardOf::default()
    };
    let found = async || {
        let shared = documents::pages_for(&state, &caller).await?;
        let issue = documents::of_a_session(&state, &state.club, &id).await?;
        Ok((documents::read(&issue.document)?, shared))
    };
    card(&state, &of, found().await, &asked).await
}

/// `GET /embed/next`: of the sessions that match and are not back alongside yet, the one that leaves first.
pub(crate) async fn of_next(
    State(state): State<ApiState>,
    caller: Caller,
    Asked(query): Asked<NextQuery>,
    asked: HeaderMap,
) -> Result<Response, ApiError> {
    let found = async || {
        let shared = documents::pages_for(&state, &caller).await?;
        let next = next(&state, &query, state.now()).await?;
        next.map(|advisory| (advisory, shared))
            .ok_or_else(|| documents::no_such_session("next"))
    };
    let found = found().await;
    let of = CardOf {
        club: state.club.to_string(),
        session: None,
        boat: query.boat,
        level: query.level,
        venue: query.venue,
    };
    card(&state, &of, found, &asked).await
}

async fn next(state: &ApiState, query: &NextQuery, now: DateTime<Utc>) -> Result<Option<Advisory>, ApiError> {
    let is = |wanted: &Option<String>, id: &str| wanted.as_ref().is_none_or(|wanted| wanted == id);
    let mut coming = documents::of_the_board(state, now).await?;
    coming.retain(|one| {
        let session = &one.session;
        session.alongside > now
            && is(&query.boat, &session.boat.id)
            && is(&query.level, &session.level.id)
            && is(&query.venue, &session.venue.id)
    });
    Ok(coming
        .into_iter()
        .min_by_key(|one| (one.session.leaves, one.session.id.clone())))
}

/// The card; one that says there is none in place of a problem's JSON, which nobody could read in a frame.
async fn card(
    state: &ApiState,
    of: &CardOf,
    found: Result<(Advisory, Shared), ApiError>,
    asked: &HeaderMap,
) -> Result<Response, ApiError> {
    let now = state.now();
    let mut response = match found {
        Ok((advisory, shared)) => {
            let decisions = documents::decisions(state, &state.club, now).await?;
            let page = html::card(of, Some(&advisory), &decisions, now)?;
            let tagged = Tagged::new(Media::Html.content_type(), page.into_bytes());
            let until = vec![advisory.valid_until.to_utc()];
            Answer::of(tagged, Keep::Until(now, until), shared).to(asked)
        }
        Err(ApiError::NoSuchSession { .. }) => none(of, now)?,
        Err(ApiError::NoSuchPage) => none(&CardOf::default(), now)?,
        Err(other) => return Err(other),
    };
    let policy = HeaderValue::from_static(POLICY);
    response.headers_mut().insert(CONTENT_SECURITY_POLICY, policy);
    Ok(response)
}

fn none(of: &CardOf, now: DateTime<Utc>) -> Result<Response, ApiError> {
    let page = html::card(of, None, &[], now)?;
    let html = [(CONTENT_TYPE, Media::Html.content_type())];
    Ok(cache::never((StatusCode::NOT_FOUND, html, page).into_response()))
}
