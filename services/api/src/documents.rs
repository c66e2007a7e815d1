//! The advisories that stand, from the store, and whether a caller may know of them.

use crate::ApiState;
use crate::cache::Shared;
use crate::caller::Caller;
use crate::extract::{is_a_name, repeated};
use crate::problem::ApiError;
use advisory::{Advisory, Decision};
use chrono::{DateTime, TimeDelta, Utc};
use club::Club;
use std::sync::Arc;
use store::{Issue, Scope};

/// A session is called at most ten days ahead; what was last issued longer ago than this is off the board.
pub(crate) const LOOK_BACK: TimeDelta = TimeDelta::days(16);

/// The advisories of sessions that end today, at the club, or later.
pub(crate) async fn of_the_board(state: &ApiState, now: DateTime<Utc>) -> Result<Vec<Advisory>, ApiError> {
    let issues = standing(state, &state.club, now).await?;
    Ok(issues.into_iter().map(|(advisory, _)| advisory).collect())
}

/// Those of any club, each with which of its session's issues it is, counted from 1.
pub(crate) async fn standing(
    state: &ApiState,
    slug: &str,
    now: DateTime<Utc>,
) -> Result<Vec<(Advisory, i64)>, ApiError> {
    let issues = state.store.standing_issues(slug, now - LOOK_BACK).await?;
    Ok(readable(issues, |issue| &issue.document)
        .filter(|(advisory, _)| is_coming(advisory, now))
        .map(|(advisory, issue)| (advisory, issue.revision))
        .collect())
}

/// The issues of a club in the days before, the newest first, at most `limit`.
pub(crate) async fn issued(
    state: &ApiState,
    slug: &str,
    (since, now): (DateTime<Utc>, DateTime<Utc>),
    limit: u16,
) -> Result<Vec<(Advisory, Issue)>, ApiError> {
    let issues = state.store.issues_between(slug, (since, now), limit).await?;
    Ok(readable(issues, |issue| &issue.document).collect())
}

/// The advisories that stand for sessions of a club and were issued from one moment to another.
pub(crate) async fn issued_between(
    state: &ApiState,
    slug: &str,
    issued: (DateTime<Utc>, DateTime<Utc>),
) -> Result<Vec<Advisory>, ApiError> {
    let documents = state.store.standing_documents_between(slug, issued).await?;
    let read = readable(documents, |document| document);
    Ok(read.map(|(advisory, _)| advisory).collect())
}

/// Those that can be read. One that cannot must not take the others off a list.
fn readable<T>(kept: Vec<T>, document: impl Fn(&T) -> &Vec<u8>) -> impl Iterator<Item = (Advisory, T)> {
    kept.into_iter()
        .filter_map(move |one| match read(document(&one)) {
            Ok(advisory) => Some((advisory, one)),
            Err(error) => {
                tracing::error!(%error, "a stored advisory cannot be read and is left off a list");
                None
            }
        })
}

/// What a club has decided of sessions on its board, in the order it decided.
pub(crate) async fn decisions(
    state: &ApiState,
    slug: &str,
    now: DateTime<Utc>,
) -> Result<Vec<Decision>, ApiError> {
    decided_between(state, slug, (now - LOOK_BACK, now)).await
}

/// What a club has decided from one moment to another, in the order it decided.
pub(crate) async fn decided_between(
    state: &ApiState,
    slug: &str,
    (since, until): (DateTime<Utc>, DateTime<Utc>),
) -> Result<Vec<Decision>, ApiError> {
    let kept = state.store.decisions(slug, since, until).await?;
    let read = |document: &[u8]| serde_json::from_slice(document).map_err(ApiError::Document);
    kept.iter().map(|decision| read(&decision.document)).collect()
}

/// What stands for a session.
pub(crate) async fn of_a_session(state: &ApiState, slug: &str, id: &str) -> Result<Issue, ApiError> {
    let found = match is_a_name(id) {
        true => state.store.standing_issue(slug, id).await?,
        false => None,
    };
    found.ok_or_else(|| no_such_session(id))
}

/// There is none of that name.
pub(crate) fn no_such_session(id: &str) -> ApiError {
    ApiError::NoSuchSession { id: repeated(id) }
}

/// A club that the caller may read, and who may keep what is said of it. One that is hidden from the caller answers as
/// if it did not exist.
pub(crate) async fn club_for(
    state: &ApiState,
    slug: &str,
    caller: &Caller,
) -> Result<(Arc<Club>, Shared), ApiError> {
    match newest(state, slug).await? {
        Some(club) if is_shown(&club, slug, caller)? => {
            let shared = shared(&club);
            Ok((club, shared))
        }
        _ => Err(no_such_club(slug)),
    }
}

/// The club of this service for the pages that are made from its file, and who may keep them.
pub(crate) async fn club_of_pages(
    state: &ApiState,
    caller: &Caller,
) -> Result<(Arc<Club>, Shared), ApiError> {
    let shared = pages_for(state, caller).await?;
    let club = newest(state, &state.club).await?.ok_or(ApiError::NoClubFile)?;
    Ok((club, shared))
}

/// Whether the pages of the club of this service may be shown to the caller, and who may keep them. Before its file was
/// ever kept there is nothing to hide: no advisory of it was issued.
pub(crate) async fn pages_for(state: &ApiState, caller: &Caller) -> Result<Shared, ApiError> {
    match newest(state, &state.club).await? {
        Some(club) if !is_shown(&club, &state.club, caller)? => Err(ApiError::NoSuchPage),
        Some(club) => Ok(shared(&club)),
        None => Ok(Shared::Public),
    }
}

/// That the caller's token allows to write something at a club. To others a hidden club answers as if it did not exist.
pub(crate) async fn may_write(
    state: &ApiState,
    slug: &str,
    caller: &Caller,
    scope: Scope,
) -> Result<(), ApiError> {
    if caller.may(scope, slug) {
        return Ok(());
    }
    let known = caller.is_of(slug) || newest(state, slug).await?.is_some_and(|club| club.public);
    Err(match known {
        false => no_such_club(slug),
        true if caller.is_nobody() => ApiError::NoToken { scope },
        true => ApiError::MissingScope { scope },
    })
}

/// Whether a club is shown to the caller. A token of the club that does not allow to read it is told so: its holder knows
/// of the club.
fn is_shown(club: &Club, slug: &str, caller: &Caller) -> Result<bool, ApiError> {
    let shown = club.public || caller.may(Scope::Read, slug);
    if !shown && caller.is_of(slug) {
        return Err(ApiError::MissingScope { scope: Scope::Read });
    }
    Ok(shown)
}

/// A club as its newest file says, whoever may know of it.
pub(crate) async fn newest(state: &ApiState, slug: &str) -> Result<Option<Arc<Club>>, ApiError> {
    match is_a_name(slug) {
        true => state.clubs.newest(&state.store, slug, state.now()).await,
        false => Ok(None),
    }
}

/// There is none of that name, or the caller may not know of it.
pub(crate) fn no_such_club(slug: &str) -> ApiError {
    ApiError::NoSuchClub { slug: repeated(slug) }
}

/// The same for a session of it: to whom the club is not shown, its sessions are not there.
pub(crate) async fn session_page_for(
    state: &ApiState,
    caller: &Caller,
    id: &str,
) -> Result<Shared, ApiError> {
    pages_for(state, caller).await.map_err(|error| match error {
        ApiError::NoSuchPage => no_such_session(id),
        other => other,
    })
}

/// Who may keep what is said of a club.
pub(crate) fn shared(club: &Club) -> Shared {
    if club.public {
        Shared::Public
    } else {
        Shared::Private
    }
}

/// The document as it was issued.
pub(crate) fn read(document: &[u8]) -> Result<Advisory, ApiError> {
    serde_json::from_slice(document).map_err(ApiError::Document)
}

fn is_coming(advisory: &Advisory, now: DateTime<Utc>) -> bool {
    let alongside = advisory.session.alongside;
    alongside.date_naive() >= now.with_timezone(alongside.offset()).date_naive()
}
