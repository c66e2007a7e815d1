//! `/v1/clubs/{club}/file`: the club's file, read and replaced, and its versions. Every address needs a token with the
//! scope `club`.
//!
//! The ETag is the hash of the file as it is kept: who replaces it names the version that was read.

use super::bytes;
use crate::answer::{Answer, Keep};
use crate::cache::Shared;
use crate::caller::Caller;
use crate::club_file::{self, Form, MEDIA_TYPES};
use crate::extract::{Asked, InPath, optional_limit};
use crate::media::accepted_of;
use crate::paging::{self, LIMIT_AT_MOST, Paging};
use crate::precondition::{Precondition, tag};
use crate::problem::{ApiError, FieldError, Problem, ReadingProblems, WritingProblems};
use crate::{ApiState, body, cache, documents};
use axum::extract::{Request, State};
use axum::http::header::{CONTENT_TYPE, ETAG, VARY};
use axum::http::{HeaderMap, HeaderValue, StatusCode, Uri};
use axum::response::{IntoResponse, Response};
use chrono::{DateTime, Utc};
use club::FILE_AT_MOST;
use serde::{Deserialize, Serialize};
use store::{NewClubVersion, Scope};
use utoipa::{IntoParams, ToSchema};

/// A page of a list.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct VersionsQuery {
    /// Items, at most.
    #[serde(default, deserialize_with = "optional_limit")]
    #[param(minimum = 1, maximum = 200)]
    limit: Option<u16>,
    /// The `next` of an earlier answer.
    cursor: Option<String>,
}

/// The versions of a club's file.
#[derive(Serialize, ToSchema)]
pub(crate) struct VersionList {
    /// The newest first.
    versions: Vec<VersionEntry>,
    /// Where the next page begins, to be given as `cursor`; none at the end.
    next: Option<String>,
}

/// A version.
#[derive(Serialize, ToSchema)]
pub(crate) struct VersionEntry {
    /// Which of the club's, counted from 1.
    number: i64,
    /// SHA-256 of its text.
    version: String,
    /// When it was first seen.
    seen_at: DateTime<Utc>,
}

/// The file as it is kept from now on.
#[derive(Serialize, ToSchema)]
pub(crate) struct Kept {
    /// SHA-256 of its text: the ETag of the file as TOML.
    version: String,
    /// What is possible but probably not meant.
    warnings: Vec<FieldError>,
}

/// The club's file. Needs a token with the scope `club`.
#[utoipa::path(get, path = "/v1/clubs/{club}/file", tag = "clubs", params(
    ("club" = String, Path, description = "Short name of the club.")
), security(("token" = ["club"])), responses(
    (status = 200, description = "The file: TOML as it was written, or the same document as JSON, as Accept asks. The JSON \
        Schema that `cringle schema` prints describes it.", headers(
        ("etag" = String, description = "The version, for If-Match.")),
        content((String = "application/toml"), (Object = "application/json"))),
    (status = 406, description = "Accept names neither media type.", body = Problem,
        content_type = "application/problem+json"),
    ReadingProblems,
))]
pub(crate) async fn get_file(
    State(state): State<ApiState>,
    caller: Caller,
    InPath(slug): InPath<String>,
    asked: HeaderMap,
) -> Result<Response, ApiError> {
    documents::may_write(&state, &slug, &caller, Scope::Club).await?;
    let offered = [("application", "toml"), ("application", "json")];
    let place = accepted_of(&asked, &offered).ok_or(ApiError::NotAcceptable {
        offered: "application/toml and application/json",
    })?;
    let form = Form::at(place);
    let newest = state.store.latest_club_version(&slug, state.now()).await?;
    let file = newest.ok_or_else(|| documents::no_such_club(&slug))?.file;
    let tag = tag(&file.version, form);
    let mut response = if Precondition::holds(&asked, &tag) {
        StatusCode::NOT_MODIFIED.into_response()
    } else {
        let body = club_file::shown(file.text, form)?;
        ([(CONTENT_TYPE, form.media_type())], body).into_response()
    };
    let headers = response.headers_mut();
    headers.extend(HeaderValue::try_from(tag).ok().map(|tag| (ETAG, tag)));
    headers.insert(VARY, HeaderValue::from_static("Accept"));
    Ok(cache::never_shared(response, Shared::Private))
}

/// Replace the club's file, as TOML or as JSON. Needs a token with the scope `club`.
///
/// Nothing is kept unless the newest version is the one that If-Match names (of two writers one is told to read again), and
/// unless the file is free of mistakes. What is given as JSON is kept as TOML. Versions are added, never changed.
#[utoipa::path(put, path = "/v1/clubs/{club}/file", tag = "clubs", params(
    ("club" = String, Path, description = "Short name of the club: the file's own."),
    ("if-match" = Option<String>, Header, description = "The ETag of the version to be replaced."),
    ("if-none-match" = Option<String>, Header, description = "`*` in place of If-Match: for a club that has no file yet.")
), request_body(content((String = "application/toml"), (Object = "application/json"))),
security(("token" = ["club"])), responses(
    (status = 200, description = "The file is kept, or was the newest version already.", body = Kept, headers(
        ("etag" = Option<String>, description = "The version; of what was sent as TOML."))),
    (status = 201, description = "It is the club's first.", body = Kept, headers(
        ("etag" = Option<String>, description = "The version; of what was sent as TOML."))),
    (status = 409, description = "The file lies on the service's own disk and is changed there.", body = Problem,
        content_type = "application/problem+json"),
    (status = 412, description = "The newest version is another than was named.", body = Problem,
        content_type = "application/problem+json"),
    (status = 428, description = "Neither If-Match nor If-None-Match is given.", body = Problem,
        content_type = "application/problem+json"),
    WritingProblems,
))]
pub(crate) async fn put_file(
    State(state): State<ApiState>,
    caller: Caller,
    InPath(slug): InPath<String>,
    request: Request,
) -> Result<Response, ApiError> {
    let now = state.now();
    documents::may_write(&state, &slug, &caller, Scope::Club).await?;
    if *slug == *state.club {
        return Err(ApiError::ManagedByFile);
    }
    let precondition = Precondition::of(request.headers()).ok_or(ApiError::NoPrecondition)?;
    let newest = state.store.latest_club_version(&slug, now).await?;
    let newest = newest.map(|kept| kept.file.version);
    if !precondition.is_met(newest.as_deref()) {
        return Err(ApiError::NotThatVersion);
    }
    let (place, body) = body::read(request, &MEDIA_TYPES, FILE_AT_MOST).await?;
    let form = Form::at(place);
    let (text, parsed) = club_file::read(&body, form)?;
    if parsed.club.slug != slug {
        let detail = format!("found {}, expected {slug}, as the address says", parsed.club.slug);
        return Err(ApiError::mistaken("club.slug", detail));
    }
    let new = NewClubVersion {
        slug,
        version: parsed.club.version,
        text,
        seen_at: now,
    };
    let unchanged = newest.as_ref() == Some(&new.version);
    if !unchanged && !state.store.replace_club_version(&new, newest.as_deref()).await? {
        return Err(ApiError::NotThatVersion);
    }
    state.written();
    let kept = bytes(&Kept {
        version: new.version.clone(),
        warnings: parsed
            .warnings
            .iter()
            .map(|odd| club_file::field(odd, form))
            .collect(),
    })?;
    let status = match newest {
        None => StatusCode::CREATED,
        Some(_) => StatusCode::OK,
    };
    let mut response = (status, [(CONTENT_TYPE, "application/json")], kept).into_response();
    // Of what was not kept as it was sent no validator is given (RFC 9110, section 9.3.4).
    let tag = HeaderValue::try_from(tag(&new.version, form)).ok();
    let verbatim = tag.filter(|_| form == Form::Toml).map(|tag| (ETAG, tag));
    response.headers_mut().extend(verbatim);
    Ok(cache::never_shared(response, Shared::Private))
}

/// The versions of the club's file, the newest first. Needs a token with the scope `club`.
#[utoipa::path(get, path = "/v1/clubs/{club}/file/versions", tag = "clubs", params(
    ("club" = String, Path, description = "Short name of the club."), VersionsQuery
), security(("token" = ["club"])), responses(
    (status = 200, description = "The versions.", body = VersionList, headers(
        ("etag" = String, description = "Validator."), ("link" = Option<String>, description = "The next page."))),
    ReadingProblems,
))]
pub(crate) async fn list_versions(
    State(state): State<ApiState>,
    caller: Caller,
    InPath(slug): InPath<String>,
    Asked(query): Asked<VersionsQuery>,
    uri: Uri,
    asked: HeaderMap,
) -> Result<Response, ApiError> {
    documents::may_write(&state, &slug, &caller, Scope::Club).await?;
    let paging = Paging::of(query.limit, query.cursor.as_deref())?;
    // Keys ascend while numbers go down.
    let after = paging.after.as_ref().and_then(|(key, _)| key.checked_neg());
    let before = after.unwrap_or(i64::MAX);
    // One more than a page may hold, so that the page knows whether another follows.
    let found = state
        .store
        .club_versions(&slug, (before, LIMIT_AT_MOST + 1))
        .await?;
    if found.is_empty() && paging.after.is_none() {
        return Err(documents::no_such_club(&slug));
    }
    let entries = found.into_iter().map(|(number, version, seen_at)| {
        let entry = VersionEntry {
            number,
            version,
            seen_at,
        };
        ((-number, String::new()), entry)
    });
    let (versions, next) = paging.page(entries.collect());
    let link = paging::link(&uri, next.as_deref());
    let body = bytes(&VersionList { versions, next })?;
    Ok(Answer {
        link,
        ..Answer::json(body, Keep::Never, Shared::Private)
    }
    .to(&asked))
}
