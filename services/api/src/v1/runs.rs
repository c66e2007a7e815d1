//! `/v1/clubs/{club}/runs`: what data there is and how old.

use super::bytes;
use crate::answer::{Answer, Keep};
use crate::caller::Caller;
use crate::extract::{Asked, InPath, optional_limit};
use crate::paging::{self, Paging};
use crate::problem::{ApiError, ReadingProblems};
use crate::{ApiState, documents};
use axum::extract::State;
use axum::http::{HeaderMap, Uri};
use axum::response::Response;
use chrono::{DateTime, Utc};
use present::standing::SourceStanding;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

/// A page of a list.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct RunsQuery {
    /// Items, at most.
    #[serde(default, deserialize_with = "optional_limit")]
    #[param(minimum = 1, maximum = 200)]
    limit: Option<u16>,
    /// The `next` of an earlier answer.
    cursor: Option<String>,
}

/// Sources and their runs.
#[derive(Serialize, ToSchema)]
pub(crate) struct RunList {
    /// When this was so.
    at: DateTime<Utc>,
    /// A source each, in the order the service asks them.
    sources: Vec<SourceEntry>,
    /// Where the next page begins, to be given as `cursor`; none at the end.
    next: Option<String>,
}

/// A source, how it stands and whose it is.
#[derive(Serialize, ToSchema)]
pub(crate) struct SourceEntry {
    #[serde(flatten)]
    standing: SourceStanding,
    /// Its producer; none where the catalogue does not know the source.
    producer: Option<String>,
    /// Its licence.
    licence: Option<String>,
    /// The sentence the licence asks for.
    attribution: Option<String>,
}

/// The newest run of each source, its age, what is late and what went wrong last.
#[utoipa::path(get, path = "/v1/clubs/{club}/runs", tag = "data", params(
    ("club" = String, Path, description = "Short name of the club."), RunsQuery
), responses(
    (status = 200, description = "The sources.", body = RunList, headers(
        ("etag" = String, description = "Weak validator, the same in every content coding."), ("link" = Option<String>, description = "The next page."))),
    ReadingProblems,
))]
pub(crate) async fn list_runs(
    State(state): State<ApiState>,
    caller: Caller,
    InPath(slug): InPath<String>,
    Asked(query): Asked<RunsQuery>,
    uri: Uri,
    asked: HeaderMap,
) -> Result<Response, ApiError> {
    let at = state.now();
    let (_, shared) = documents::club_for(&state, &slug, &caller).await?;
    let paging = Paging::of(query.limit, query.cursor.as_deref())?;
    let standings = state.standings(at).await?;
    let in_order = (0..).zip(standings);
    let in_order = in_order.map(|(place, one)| ((place, one.source.clone()), entry(&state, one)));
    let (sources, next) = paging.page(in_order.collect());
    let link = paging::link(&uri, next.as_deref());
    let body = bytes(&RunList { at, sources, next })?;
    Ok(Answer {
        link,
        ..Answer::json(body, Keep::Never, shared)
    }
    .to(&asked))
}

fn entry(state: &ApiState, standing: SourceStanding) -> SourceEntry {
    let mut feeds = state.catalogue.feeds().iter();
    let feed = feeds.find(|feed| feed.name.as_str() == standing.source);
    SourceEntry {
        producer: feed.map(|feed| feed.producer.clone()),
        licence: feed.map(|feed| feed.licence.clone()),
        attribution: feed.map(|feed| feed.attribution.clone()),
        standing,
    }
}
