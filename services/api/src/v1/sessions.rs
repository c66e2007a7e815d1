//! `/v1/clubs/{club}/sessions`: the sessions with the call that stands for each.

use super::bytes;
use super::days::Days;
use crate::answer::{Answer, Keep};
use crate::caller::Caller;
use crate::documents::LOOK_BACK;
use crate::extract::{Asked, InPath, optional_day, optional_limit};
use crate::paging::{self, Key, Paging};
use crate::problem::{ApiError, ReadingProblems};
use crate::{ApiState, documents};
use advisory::document::{CallWord, Firmness, Session};
use advisory::{Advisory, Decision};
use axum::extract::State;
use axum::http::{HeaderMap, Uri};
use axum::response::Response;
use chrono::{DateTime, FixedOffset, NaiveDate, Utc};
use club::Club;
use present::{CardWords, card_words};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

/// Which sessions.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct SessionsQuery {
    /// First day of leaving, at the club; today unless given.
    #[serde(default, deserialize_with = "optional_day")]
    #[param(value_type = Option<String>, format = Date)]
    from: Option<NaiveDate>,
    /// Last day of leaving, at most 62 days in all.
    #[serde(default, deserialize_with = "optional_day")]
    #[param(value_type = Option<String>, format = Date)]
    to: Option<NaiveDate>,
    /// Key of a crew level.
    level: Option<String>,
    /// Key of a boat.
    boat: Option<String>,
    /// Key of a venue.
    venue: Option<String>,
    /// The session of this name only.
    session: Option<String>,
    /// Only sessions that are not back alongside yet.
    ahead: Option<bool>,
    /// Those with this call, as it may be shown now: an old one is no call.
    #[param(inline)]
    call: Option<CallWord>,
    /// Items, at most.
    #[serde(default, deserialize_with = "optional_limit")]
    #[param(minimum = 1, maximum = 200)]
    limit: Option<u16>,
    /// The `next` of an earlier answer.
    cursor: Option<String>,
}

/// Sessions.
#[derive(Serialize, ToSchema)]
pub(crate) struct SessionList {
    /// The club's name.
    club: String,
    /// In order of leaving.
    sessions: Vec<SessionEntry>,
    /// Where the next page begins, to be given as `cursor`; none at the end.
    next: Option<String>,
}

/// A session with its call.
#[derive(Serialize, ToSchema)]
pub(crate) struct SessionEntry {
    #[serde(flatten)]
    session: Session,
    /// The call as it may be shown now: no call where the advisory is old.
    call: CallWord,
    /// The advisory is past its `valid_until`: old, no call.
    old: bool,
    /// A go with too little wind to sail much.
    light: bool,
    /// How much the call can be leaned on.
    firmness: Firmness,
    /// Probability of no-go, where members could be counted.
    p_no_go: Option<f64>,
    /// The call explained; what was said while it held where the advisory is old.
    summary: String,
    /// Name of the advisory.
    advisory: String,
    /// When it was issued.
    issued_at: DateTime<FixedOffset>,
    /// Until when it holds.
    valid_until: DateTime<FixedOffset>,
    /// When the club decides.
    decides_by: DateTime<FixedOffset>,
    /// What the club decided last.
    decision: Option<Decision>,
    /// The words of a card, as they may be shown now.
    card: CardWords,
}

/// The sessions of a club for which an advisory was issued, in order of leaving.
#[utoipa::path(get, path = "/v1/clubs/{club}/sessions", tag = "sessions", params(
    ("club" = String, Path, description = "Short name of the club."), SessionsQuery
), responses(
    (status = 200, description = "The sessions.", body = SessionList, headers(
        ("etag" = String, description = "Weak validator, the same in every content coding."), ("link" = Option<String>, description = "The next page."))),
    ReadingProblems,
))]
pub(crate) async fn list_sessions(
    State(state): State<ApiState>,
    caller: Caller,
    InPath(slug): InPath<String>,
    Asked(query): Asked<SessionsQuery>,
    uri: Uri,
    asked: HeaderMap,
) -> Result<Response, ApiError> {
    let now = state.now();
    let (club, shared) = documents::club_for(&state, &slug, &caller).await?;
    let days = Days::asked(query.from, query.to, today(&club, now))?;
    let paging = Paging::of(query.limit, query.cursor.as_deref())?;
    let advisories = leaving_on(&state, &slug, days).await?;
    let until = advisories.iter().map(|one| one.valid_until.to_utc()).collect();
    let decisions = documents::decisions(&state, &slug, now).await?;
    let entries = advisories
        .into_iter()
        .filter(|one| query.ahead != Some(true) || one.session.alongside > now)
        .map(|one| (key(&one), entry(one, &decisions, now)));
    let wanted = entries.filter(|(_, one)| query.wants(one)).collect();
    let (sessions, next) = paging.page(wanted);
    let link = paging::link(&uri, next.as_deref());
    let body = bytes(&SessionList {
        club: club.name.clone(),
        sessions,
        next,
    })?;
    Ok(Answer {
        link,
        ..Answer::json(body, Keep::Until(now, until), shared)
    }
    .to(&asked))
}

impl SessionsQuery {
    fn wants(&self, entry: &SessionEntry) -> bool {
        let is = |wanted: &Option<String>, id: &str| wanted.as_ref().is_none_or(|wanted| wanted == id);
        is(&self.level, &entry.session.level.id)
            && is(&self.boat, &entry.session.boat.id)
            && is(&self.venue, &entry.session.venue.id)
            && is(&self.session, &entry.session.id)
            && self.call.is_none_or(|call| call == entry.call)
    }
}

/// The day it is at a club.
pub(super) fn today(club: &Club, now: DateTime<Utc>) -> NaiveDate {
    now.with_timezone(&club.time_zone).date_naive()
}

/// The advisories that stand for sessions that leave on these days, in order of leaving. None is issued longer ahead
/// than the board looks back.
pub(super) async fn leaving_on(state: &ApiState, slug: &str, days: Days) -> Result<Vec<Advisory>, ApiError> {
    let (begin, end) = days.around();
    let mut advisories = documents::issued_between(state, slug, (begin - LOOK_BACK, end)).await?;
    advisories.retain(|one| days.hold(one.session.leaves.date_naive()));
    advisories.sort_by_cached_key(key);
    Ok(advisories)
}

/// Leaving, then its name.
pub(super) fn key(advisory: &Advisory) -> Key {
    let session = &advisory.session;
    (session.leaves.timestamp(), session.id.clone())
}

fn entry(advisory: Advisory, decisions: &[Decision], now: DateTime<Utc>) -> SessionEntry {
    let old = now > advisory.valid_until;
    let of_session = |decision: &&Decision| decision.session == advisory.session.id;
    SessionEntry {
        card: card_words(&advisory, decisions, now),
        decision: decisions.iter().rev().find(of_session).cloned(),
        session: advisory.session,
        call: if old { CallWord::NoCall } else { advisory.call },
        old,
        light: advisory.light && !old,
        firmness: advisory.firmness,
        p_no_go: advisory.sureness.p_no_go,
        summary: advisory.summary,
        advisory: advisory.id,
        issued_at: advisory.issued_at,
        valid_until: advisory.valid_until,
        decides_by: advisory.decides_by,
    }
}
