//! `/v1/clubs/{club}/decisions`: what the club has decided of sessions, and deciding. The program itself never decides.

use super::bytes;
use super::days::{DAYS_AT_MOST, Days};
use super::sessions::today;
use crate::answer::{Answer, Keep};
use crate::cache::Shared;
use crate::caller::Caller;
use crate::documents::LOOK_BACK;
use crate::extract::{Asked, InPath, optional_day, optional_limit};
use crate::paging::{self, Key, Paging};
use crate::problem::{ApiError, ReadingProblems, WritingProblems};
use crate::{ApiState, body, cache, documents};
use advisory::{Advisory, Decided, Decision};
use axum::extract::{Request, State};
use axum::http::header::CONTENT_TYPE;
use axum::http::{HeaderMap, StatusCode, Uri};
use axum::response::{IntoResponse, Response};
use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use store::{NewDecision, Scope};
use utoipa::{IntoParams, ToSchema};

/// Largest body of a decision, octets: its words are bounded far below.
pub(crate) const DECISION_AT_MOST: usize = 16 * 1024;

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
        ("etag" = String, description = "Weak validator, the same in every content coding."), ("link" = Option<String>, description = "The next page."))),
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

/// A decision to be kept.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewlyDecided {
    /// The session, as its advisory names it. It must not be over.
    pub(crate) session: String,
    /// What was decided.
    pub(crate) decided: Decided,
    /// Who decided: a name or initials, as the crew knows them.
    #[schema(min_length = 1, max_length = 200)]
    pub(crate) by: String,
    /// A note for the crew; to when or where the session is moved.
    #[schema(max_length = 200)]
    pub(crate) note: Option<String>,
}

/// Keep what the club has decided of a session. Needs a token with the scope `decide`.
///
/// Decisions are added, never changed: the last one counts, and the earlier ones stay on record.
#[utoipa::path(post, path = "/v1/clubs/{club}/decisions", tag = "sessions", params(
    ("club" = String, Path, description = "Short name of the club.")
), request_body = NewlyDecided, security(("token" = ["decide"])), responses(
    (status = 201, description = "The decision as it is kept.", body = Decision),
    WritingProblems,
))]
pub(crate) async fn add_decision(
    State(state): State<ApiState>,
    caller: Caller,
    InPath(slug): InPath<String>,
    request: Request,
) -> Result<Response, ApiError> {
    let now = state.now();
    documents::may_write(&state, &slug, &caller, Scope::Decide).await?;
    let (_, body) = body::read(request, &["application/json"], DECISION_AT_MOST).await?;
    let new: NewlyDecided = body::json(&body)?;
    let issue = documents::of_a_session(&state, &slug, &new.session).await?;
    let decision = checked(new, &documents::read(&issue.document)?, now)?;
    let document = keep(&state, &slug, &decision).await?;
    let json = [(CONTENT_TYPE, "application/json")];
    let response = (StatusCode::CREATED, json, document).into_response();
    Ok(cache::never_shared(response, Shared::Private))
}

/// The decision made now of the session of an advisory, with its words fit to be kept.
///
/// # Errors
/// [`ApiError::Mistaken`] with the field that cannot be so.
pub(crate) fn checked(new: NewlyDecided, of: &Advisory, now: DateTime<Utc>) -> Result<Decision, ApiError> {
    if of.session.alongside < now {
        return Err(ApiError::mistaken(
            "session",
            "this session is over: name a coming one",
        ));
    }
    let decision = Decision {
        session: new.session,
        decided: new.decided,
        by: new.by,
        at: now,
        note: new.note,
    };
    let checked = decision.checked();
    checked.map_err(|wrong| ApiError::mistaken(wrong.field, wrong.words))
}

/// Keeps a decision of a club and gives the document as it is kept.
pub(crate) async fn keep(state: &ApiState, slug: &str, decision: &Decision) -> Result<Vec<u8>, ApiError> {
    let document = bytes(decision)?;
    let new = NewDecision {
        club: slug.to_owned(),
        occurrence: decision.session.clone(),
        document: document.clone(),
        at: decision.at,
    };
    state.store.put_decision(&new).await?;
    state.written();
    Ok(document)
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
