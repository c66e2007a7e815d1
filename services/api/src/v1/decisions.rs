//! `/v1/clubs/{club}/decisions`: what the club has decided of sessions.

use super::bytes;
use super::days::{DAYS_AT_MOST, Days};
use super::sessions::today;
use crate::answer::{Answer, Keep};
use crate::caller::Caller;
use crate::documents::LOOK_BACK;
use crate::extract::{Asked, InPath, optional_day, optional_limit};
use crate::paging::{self, Key, Paging};
use crate::problem::{ApiError, ReadingProblems};
use crate::{ApiState, documents};
use advisory::Decision;
use axum::extract::State;
use axum::http::{HeaderMap, Uri};
use axum::response::Response;
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

const _: () = assert!(
    LOOK_BACK.num_days() < DAYS_AT_MOST,
    "today is among the usual days"
);

/// Which decisions.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct DecisionsQuery {
    /// First day of deciding, at the club; sixteen days ago unless given.
    #[serde(default, deserialize_with = "optional_day")]
    #[param(value_type = Option<String>, format = Date)]
    from: Option<NaiveDate>,
    /// Last day of deciding, at most 62 days in all.
    #[serde(default, deserialize_with = "optional_day")]
    #[param(value_type = Option<String>, format = Date)]
    to: Option<NaiveDate>,
    /// Those of this session.
    session: Option<String>,
    /// Items, at most.
    #[serde(default, deserialize_with = "optional_limit")]
    #[param(minimum = 1, maximum = 200)]
    limit: Option<u16>,
    /// The `next` of an earlier answer.
    cursor: Option<String>,
}

/// Decisions.
#[derive(Serialize, ToSchema)]
pub(crate) struct DecisionList {
    /// In the order they were made; of a session the last one counts.
    decisions: Vec<Decision>,
    /// Where the next page begins, to be given as `cursor`; none at the end.
    next: Option<String>,
}

/// What a club has decided, in the order it decided.
#[utoipa::path(get, path = "/v1/clubs/{club}/decisions", tag = "sessions", params(
    ("club" = String, Path, description = "Short name of the club."), DecisionsQuery
), responses(
    (status = 200, description = "The decisions.", body = DecisionList, headers(
        ("etag" = String, description = "Strong validator."), ("link" = Option<String>, description = "The next page."))),
    ReadingProblems,
))]
pub(crate) async fn list_decisions(
    State(state): State<ApiState>,
    caller: Caller,
    InPath(slug): InPath<String>,
    Asked(query): Asked<DecisionsQuery>,
    uri: Uri,
    asked: HeaderMap,
) -> Result<Response, ApiError> {
    let now = state.now();
    let (club, shared) = documents::club_for(&state, &slug, &caller).await?;
    let days = Days::asked(query.from, query.to, today(&club, now) - LOOK_BACK)?;
    let paging = Paging::of(query.limit, query.cursor.as_deref())?;
    let (since, until) = days.around();
    let mut decisions = documents::decided_between(&state, &slug, (since, until.min(now))).await?;
    decisions.retain(|one| {
        days.hold(one.at.with_timezone(&club.time_zone).date_naive())
            && query
                .session
                .as_ref()
                .is_none_or(|session| *session == one.session)
    });
    let (decisions, next) = paging.page(in_order(decisions));
    let link = paging::link(&uri, next.as_deref());
    let body = bytes(&DecisionList { decisions, next })?;
    Ok(Answer {
        link,
        ..Answer::json(body, Keep::Never, shared)
    }
    .to(&asked))
}

/// By second, session, and which of that session's in that second.
fn in_order(mut decisions: Vec<Decision>) -> Vec<(Key, Decision)> {
    decisions.sort_by(|one, other| {
        let key = |decision: &Decision| (decision.at.timestamp(), decision.session.clone());
        key(one).cmp(&key(other))
    });
    let mut keyed: Vec<(Key, Decision)> = Vec::with_capacity(decisions.len());
    let mut before = 0;
    for decision in decisions {
        let same = |last: &(Key, Decision)| {
            last.1.at.timestamp() == decision.at.timestamp() && last.1.session == decision.session
        };
        before = if keyed.last().is_some_and(same) {
            before + 1
        } else {
            0
        };
        let name = format!("{} {before:06}", decision.session);
        keyed.push(((decision.at.timestamp(), name), decision));
    }
    keyed
}
