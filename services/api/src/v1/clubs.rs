//! `/v1/clubs` and `/v1/clubs/{club}`: who sails here, with what and for whom.

use super::bytes;
use crate::answer::{Answer, Keep};
use crate::cache::Shared;
use crate::caller::Caller;
use crate::extract::{Asked, InPath, optional_limit};
use crate::paging::{self, Paging};
use crate::problem::{ApiError, ReadingProblems};
use crate::{ApiState, cache, documents};
use advisory::document::Named;
use axum::extract::State;
use axum::http::{HeaderMap, Uri};
use axum::response::Response;
use club::Club;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

/// A page of a list.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct ClubsQuery {
    /// Items, at most.
    #[serde(default, deserialize_with = "optional_limit")]
    #[param(minimum = 1, maximum = 200)]
    limit: Option<u16>,
    /// The `next` of an earlier answer.
    cursor: Option<String>,
}

/// Clubs.
#[derive(Serialize, ToSchema)]
pub(crate) struct ClubList {
    /// By short name.
    clubs: Vec<ClubEntry>,
    /// Where the next page begins, to be given as `cursor`; none at the end.
    next: Option<String>,
}

/// A club.
#[derive(Serialize, ToSchema)]
pub(crate) struct ClubEntry {
    /// Short name in addresses.
    slug: String,
    /// Name.
    name: String,
    /// IANA time zone.
    time_zone: String,
    /// How to reach it.
    contact: Option<String>,
}

/// A club with what it sails.
#[derive(Serialize, ToSchema)]
pub(crate) struct ClubDetail {
    /// Short name in addresses.
    slug: String,
    /// Name.
    name: String,
    /// IANA time zone.
    time_zone: String,
    /// How to reach it.
    contact: Option<String>,
    /// When, on the day before a session, it decides: wall time, HH:MM.
    decides_at: String,
    /// When the daily mail to its subscribers is due: wall time, HH:MM; null where the club sends none.
    digest_at: Option<String>,
    /// Where official warnings are found.
    warnings_from: Option<String>,
    /// Places.
    venues: Vec<Named>,
    /// Boats.
    boats: Vec<Named>,
    /// Crew levels, the least experienced first.
    levels: Vec<Named>,
    /// SHA-256 of its file.
    version: String,
}

/// The clubs the caller may read.
#[utoipa::path(get, path = "/v1/clubs", tag = "clubs", params(ClubsQuery), responses(
    (status = 200, description = "The clubs, by short name.", body = ClubList, headers(
        ("etag" = String, description = "Weak validator, the same in every content coding."), ("link" = Option<String>, description = "The next page."))),
    ReadingProblems,
))]
pub(crate) async fn list_clubs(
    State(state): State<ApiState>,
    caller: Caller,
    Asked(query): Asked<ClubsQuery>,
    uri: Uri,
    asked: HeaderMap,
) -> Result<Response, ApiError> {
    let now = state.now();
    let paging = Paging::of(query.limit, query.cursor.as_deref())?;
    let mut entries = Vec::new();
    let mut shared = Shared::Public;
    for slug in state.store.club_slugs(now).await? {
        match documents::club_for(&state, &slug, &caller).await {
            Ok((club, whose)) => {
                if whose == Shared::Private {
                    shared = Shared::Private;
                }
                entries.push(((0, slug), entry(&club)));
            }
            Err(ApiError::NoSuchClub { .. } | ApiError::MissingScope { .. }) => {}
            Err(ApiError::ClubFile) => {
                tracing::error!(slug, "a stored club file cannot be read and is left off the list");
            }
            Err(other) => return Err(other),
        }
    }
    let (clubs, next) = paging.page(entries);
    let link = paging::link(&uri, next.as_deref());
    let body = bytes(&ClubList { clubs, next })?;
    let keep = Keep::Until(now, Vec::new());
    let answer = Answer {
        link,
        ..Answer::json(body, keep, shared)
    };
    // Without a token too: to the holder of one the list may be longer.
    Ok(match shared {
        Shared::Public => cache::by_caller(answer.to(&asked)),
        Shared::Private => answer.to(&asked),
    })
}

/// One club.
#[utoipa::path(get, path = "/v1/clubs/{club}", tag = "clubs", params(
    ("club" = String, Path, description = "Short name of the club.")
), responses(
    (status = 200, description = "The club.", body = ClubDetail, headers(("etag" = String, description = "Weak validator, the same in every content coding."))),
    ReadingProblems,
))]
pub(crate) async fn get_club(
    State(state): State<ApiState>,
    caller: Caller,
    InPath(slug): InPath<String>,
    asked: HeaderMap,
) -> Result<Response, ApiError> {
    let (club, shared) = documents::club_for(&state, &slug, &caller).await?;
    let keep = Keep::Until(state.now(), Vec::new());
    Ok(Answer::json(bytes(&detail(&club))?, keep, shared).to(&asked))
}

fn entry(club: &Club) -> ClubEntry {
    ClubEntry {
        slug: club.slug.clone(),
        name: club.name.clone(),
        time_zone: club.time_zone.to_string(),
        contact: club.contact.clone(),
    }
}

fn detail(club: &Club) -> ClubDetail {
    let named = |id: &str, name: &str| Named {
        id: id.to_owned(),
        name: name.to_owned(),
    };
    let ClubEntry {
        slug,
        name,
        time_zone,
        contact,
    } = entry(club);
    ClubDetail {
        slug,
        name,
        time_zone,
        contact,
        decides_at: club.decides_at.format("%H:%M").to_string(),
        digest_at: club.digest_at.map(|at| at.format("%H:%M").to_string()),
        warnings_from: club.warnings_from.clone(),
        venues: club.venues.iter().map(|one| named(&one.id, &one.name)).collect(),
        boats: club.boats.iter().map(|one| named(&one.id, &one.name)).collect(),
        levels: club.levels.iter().map(|one| named(&one.id, &one.name)).collect(),
        version: club.version.clone(),
    }
}
