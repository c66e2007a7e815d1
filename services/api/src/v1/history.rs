//! `/v1/clubs/{club}/calls/{id}/history`: every advisory that was issued for a session, and what the club decided.

use super::bytes;
use crate::answer::{Answer, Keep};
use crate::caller::Caller;
use crate::extract::{Asked, InPath, is_a_name, optional_limit};
use crate::paging::{self, LIMIT_AT_MOST, Paging};
use crate::problem::{ApiError, ReadingProblems};
use crate::{ApiState, documents};
use advisory::Decision;
use advisory::document::{CallWord, Firmness};
use axum::extract::State;
use axum::http::{HeaderMap, Uri};
use axum::response::Response;
use chrono::{DateTime, FixedOffset, TimeDelta, Utc};
use serde::{Deserialize, Serialize};
use store::Issue;
use utoipa::{IntoParams, ToSchema};

/// A page of a list.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct HistoryQuery {
    /// Issues, at most.
    #[serde(default, deserialize_with = "optional_limit")]
    #[param(minimum = 1, maximum = 200)]
    limit: Option<u16>,
    /// The `next` of an earlier answer.
    cursor: Option<String>,
}

/// What was said of a session, and decided.
#[derive(Serialize, ToSchema)]
pub(crate) struct History {
    /// The session.
    session: String,
    /// The advisories as they were issued, the oldest first.
    issues: Vec<IssueEntry>,
    /// What the club decided of it, in the order it decided; with the first page only.
    decisions: Vec<Decision>,
    /// Where the next page begins, to be given as `cursor`; none at the end.
    next: Option<String>,
}

/// One issue.
#[derive(Serialize, ToSchema)]
pub(crate) struct IssueEntry {
    /// Name of the advisory.
    id: String,
    /// Which of the session's, counted from 1.
    revision: i64,
    /// When it was issued.
    issued_at: DateTime<FixedOffset>,
    /// Until when it held.
    valid_until: DateTime<FixedOffset>,
    /// The call.
    call: CallWord,
    /// What the forecast alone said, where a worse call stood until it was believed.
    kinder_forecast: Option<CallWord>,
    /// How much it could be leaned on.
    firmness: Firmness,
    /// Probability of no-go.
    p_no_go: Option<f64>,
    /// Probability of marginal or worse.
    p_marginal_or_worse: Option<f64>,
    /// Reference time of the run of the wind; none where no run was at hand.
    run: Option<DateTime<Utc>>,
}

/// Every issued advisory of a session, and the club's decisions.
#[utoipa::path(get, path = "/v1/clubs/{club}/calls/{id}/history", tag = "sessions", params(
    ("club" = String, Path, description = "Short name of the club."),
    ("id" = String, Path, description = "The session, its slash percent-encoded."),
    HistoryQuery
), responses(
    (status = 200, description = "What was said of it.", body = History, headers(
        ("etag" = String, description = "Weak validator, the same in every content coding."), ("link" = Option<String>, description = "The next page."))),
    ReadingProblems,
))]
pub(crate) async fn get_history(
    State(state): State<ApiState>,
    caller: Caller,
    InPath((slug, id)): InPath<(String, String)>,
    Asked(query): Asked<HistoryQuery>,
    uri: Uri,
    asked: HeaderMap,
) -> Result<Response, ApiError> {
    let now = state.now();
    let (_, shared) = documents::club_for(&state, &slug, &caller).await?;
    let paging = Paging::of(query.limit, query.cursor.as_deref())?;
    let after = paging.after.as_ref().map_or(0, |(revision, _)| *revision);
    // One more than a page may hold, so that the page knows whether another follows.
    let issues = match is_a_name(&id) {
        true => state.store.issues(&slug, &id, (after, LIMIT_AT_MOST + 1)).await?,
        false => Vec::new(),
    };
    if issues.is_empty() && paging.after.is_none() {
        return Err(documents::no_such_session(&id));
    }
    let decisions = match (&paging.after, issues.first()) {
        (None, Some(first)) => decided(&state, &slug, &id, (first.issued_at, now)).await?,
        _ => Vec::new(),
    };
    let entries: Result<Vec<_>, ApiError> = issues
        .iter()
        .map(|issue| Ok((key(issue), entry(issue)?)))
        .collect();
    let (issues, next) = paging.page(entries?);
    let link = paging::link(&uri, next.as_deref());
    let session = id;
    let body = bytes(&History {
        session,
        issues,
        decisions,
        next,
    })?;
    Ok(Answer {
        link,
        ..Answer::json(body, Keep::Never, shared)
    }
    .to(&asked))
}

fn key(issue: &Issue) -> paging::Key {
    (issue.revision, String::new())
}

/// What was decided of a session: from a day before its first advisory, as nobody decides of it much sooner.
async fn decided(
    state: &ApiState,
    slug: &str,
    id: &str,
    (first, now): (DateTime<Utc>, DateTime<Utc>),
) -> Result<Vec<Decision>, ApiError> {
    let mut decisions = documents::decided_between(state, slug, (first - TimeDelta::days(1), now)).await?;
    decisions.retain(|decision| decision.session == id);
    Ok(decisions)
}

fn entry(issue: &Issue) -> Result<IssueEntry, ApiError> {
    let advisory = documents::read(&issue.document)?;
    let of_wind = advisory
        .sources
        .iter()
        .find(|used| used.used_for.contains("wind"));
    Ok(IssueEntry {
        id: advisory.id,
        revision: issue.revision,
        issued_at: advisory.issued_at,
        valid_until: advisory.valid_until,
        call: advisory.call,
        kinder_forecast: advisory.kinder_forecast,
        firmness: advisory.firmness,
        p_no_go: advisory.sureness.p_no_go,
        p_marginal_or_worse: advisory.sureness.p_marginal_or_worse,
        run: of_wind.and_then(|used| used.run),
    })
}
