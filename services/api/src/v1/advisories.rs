//! `/v1/clubs/{club}/sessions/{id}/advisory` and `/v1/clubs/{club}/advisories/{date}`: the documents as they were issued.

use super::bytes;
use super::days::Days;
use super::sessions::{key, leaving_on};
use crate::answer::{Answer, Keep};
use crate::caller::Caller;
use crate::extract::{Asked, InPath, day, optional_limit};
use crate::media::{self, Media};
use crate::paging::{self, Paging};
use crate::problem::{ApiError, Problem, ReadingProblems};
use crate::{ApiState, documents, forms};
use advisory::Advisory;
use axum::extract::State;
use axum::http::{HeaderMap, Uri};
use axum::response::Response;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

/// In which form.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct AdvisoryQuery {
    /// For links, which cannot say Accept: wins over it.
    #[param(inline)]
    format: Option<Media>,
}

/// A page of a list.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct DayQuery {
    /// Items, at most.
    #[serde(default, deserialize_with = "optional_limit")]
    #[param(minimum = 1, maximum = 200)]
    limit: Option<u16>,
    /// The `next` of an earlier answer.
    cursor: Option<String>,
}

/// The advisories of a day.
#[derive(Serialize, ToSchema)]
pub(crate) struct AdvisoryList {
    /// In order of leaving, as they were issued: each is old, and no call, after its `valid_until`.
    advisories: Vec<Advisory>,
    /// Where the next page begins, to be given as `cursor`; none at the end.
    next: Option<String>,
}

/// The advisory that stands for a session, in the form that Accept asks for.
#[utoipa::path(get, path = "/v1/clubs/{club}/sessions/{id}/advisory", tag = "sessions", params(
    ("club" = String, Path, description = "Short name of the club."),
    ("id" = String, Path, description = "The session, its slash percent-encoded."),
    AdvisoryQuery
), responses(
    (status = 200, description = "The advisory.", headers(
        ("etag" = String, description = "Weak validator, the same in every content coding."), ("vary" = String, description = "Accept.")), content(
        (Advisory = "application/json"), (String = "text/html"), (String = "text/plain"), (String = "text/calendar"))),
    (status = 406, description = "Accept names none of the four media types.", body = Problem,
        content_type = "application/problem+json"),
    ReadingProblems,
))]
pub(crate) async fn get_advisory(
    State(state): State<ApiState>,
    caller: Caller,
    InPath((slug, id)): InPath<(String, String)>,
    Asked(query): Asked<AdvisoryQuery>,
    asked: HeaderMap,
) -> Result<Response, ApiError> {
    let (_, shared) = documents::club_for(&state, &slug, &caller).await?;
    let media = chosen(&query, &asked)?;
    forms::of_session(&state, slug, id, media, (shared, true), &asked).await
}

/// The advisory that stands for a session of the club whose pages this service shows: always JSON.
#[utoipa::path(get, path = "/v1/sessions/{id}/advisory", tag = "sessions", params(
    ("id" = String, Path, description = "The session, its slash percent-encoded.")
), responses(
    (status = 200, description = "The advisory.", body = Advisory, headers(("etag" = String, description = "Weak validator, the same in every content coding."))),
    ReadingProblems,
))]
pub(crate) async fn get_advisory_here(
    State(state): State<ApiState>,
    caller: Caller,
    InPath(id): InPath<String>,
    asked: HeaderMap,
) -> Result<Response, ApiError> {
    let shared = documents::session_page_for(&state, &caller, &id).await?;
    let slug = state.club.to_string();
    forms::of_session(&state, slug, id, Media::Json, (shared, false), &asked).await
}

/// The advisories that stand for the sessions that leave on a day, at the club.
#[utoipa::path(get, path = "/v1/clubs/{club}/advisories/{date}", tag = "sessions", params(
    ("club" = String, Path, description = "Short name of the club."),
    ("date" = String, Path, format = Date, description = "The day of leaving, YYYY-MM-DD."),
    DayQuery
), responses(
    (status = 200, description = "The advisories, in order of leaving.", body = AdvisoryList, headers(
        ("etag" = String, description = "Weak validator, the same in every content coding."), ("link" = Option<String>, description = "The next page."))),
    ReadingProblems,
))]
pub(crate) async fn list_advisories(
    State(state): State<ApiState>,
    caller: Caller,
    InPath((slug, date)): InPath<(String, String)>,
    Asked(query): Asked<DayQuery>,
    uri: Uri,
    asked: HeaderMap,
) -> Result<Response, ApiError> {
    let now = state.now();
    let (_, shared) = documents::club_for(&state, &slug, &caller).await?;
    let date = day(&date).map_err(|expected| ApiError::field("date", expected))?;
    let paging = Paging::of(query.limit, query.cursor.as_deref())?;
    let advisories = leaving_on(&state, &slug, Days { from: date, to: date }).await?;
    let until = advisories.iter().map(|one| one.valid_until.to_utc()).collect();
    let keyed = advisories.into_iter().map(|one| (key(&one), one)).collect();
    let (advisories, next) = paging.page(keyed);
    let link = paging::link(&uri, next.as_deref());
    let body = bytes(&AdvisoryList { advisories, next })?;
    Ok(Answer {
        link,
        ..Answer::json(body, Keep::Until(now, until), shared)
    }
    .to(&asked))
}

fn chosen(query: &AdvisoryQuery, asked: &HeaderMap) -> Result<Media, ApiError> {
    let media = query.format.or_else(|| media::accepted(asked));
    media.ok_or(ApiError::NotAcceptable {
        offered: "application/json, text/html, text/plain and text/calendar",
    })
}
