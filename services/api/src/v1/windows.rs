//! `/v1/clubs/{club}/windows`: the stretches of the coming days that are good enough; looked for, never issued.

use super::bytes;
use super::sessions::today;
use crate::answer::{Answer, Keep};
use crate::caller::Caller;
use crate::extract::{Asked, InPath, optional_day, optional_limit};
use crate::paging::{self, Key, Paging};
use crate::problem::{ApiError, ReadingProblems};
use crate::{ApiState, documents};
use advisor::{WindowChoice, Windows};
use advisory::document::Named;
use advisory::{Opening, OpeningQuery};
use axum::extract::State;
use axum::http::{HeaderMap, Uri};
use axum::response::Response;
use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use club::Club;
use serde::{Deserialize, Deserializer, Serialize, de::Error as _};
use std::sync::Arc;
use utoipa::{IntoParams, ToSchema};

/// Days ahead of today, at most: no forecast reaches further.
const LAST_AHEAD: i64 = 15;
/// Days ahead of the first that are looked at unless the last is given: a week in all.
const USUALLY_AHEAD: i64 = 6;

/// Which windows.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct WindowsQuery {
    /// Key of a session of the club: its venue, boat, level and length are taken where they are not given.
    session: Option<String>,
    /// Key of a venue; the session's or the club's first unless given.
    venue: Option<String>,
    /// Key of a boat; the session's or the club's first unless given.
    boat: Option<String>,
    /// Key of a crew level; the session's or the club's first unless given.
    level: Option<String>,
    /// Shortest stretch, in hours; the session's length or 3 unless given.
    #[serde(default, deserialize_with = "optional_length")]
    #[param(minimum = 1, maximum = 24)]
    length: Option<u16>,
    /// How good every hour must be: go unless given.
    #[serde(default)]
    #[param(inline)]
    call: Wanted,
    /// First day, at the club; today unless given, none before it.
    #[serde(default, deserialize_with = "optional_day")]
    #[param(value_type = Option<String>, format = Date)]
    from: Option<NaiveDate>,
    /// Last day, at most 15 days after today; a week in all unless given.
    #[serde(default, deserialize_with = "optional_day")]
    #[param(value_type = Option<String>, format = Date)]
    to: Option<NaiveDate>,
    /// Items, at most.
    #[serde(default, deserialize_with = "optional_limit")]
    #[param(minimum = 1, maximum = 200)]
    limit: Option<u16>,
    /// The `next` of an earlier answer.
    cursor: Option<String>,
}

/// How good every hour must be.
#[derive(Clone, Copy, Default, PartialEq, Eq, Deserialize, ToSchema)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum Wanted {
    /// Go.
    #[default]
    Go,
    /// Go or marginal.
    Marginal,
}

/// Windows, found by the newest runs. Nothing is issued by looking.
#[derive(Serialize, ToSchema)]
pub(crate) struct WindowList {
    /// Where.
    venue: Named,
    /// With which boat.
    boat: Named,
    /// For which level.
    level: Named,
    /// Shortest stretch, minutes.
    at_least_min: i64,
    /// First day, at the club.
    from: NaiveDate,
    /// Last day.
    to: NaiveDate,
    /// Why nothing can be said at all; none where a run was at hand.
    no_data: Option<&'static str>,
    /// To everyone who reads this.
    caution: &'static str,
    /// In order of time; none where no stretch is good enough or the forecast does not reach.
    windows: Vec<Opening>,
    /// Where the next page begins, to be given as `cursor`; none at the end.
    next: Option<String>,
}

/// The stretches of the coming days that are good enough for a boat and a level, in daylight and the club's hours.
#[utoipa::path(get, path = "/v1/clubs/{club}/windows", tag = "data", params(
    ("club" = String, Path, description = "Short name of the club."), WindowsQuery
), responses(
    (status = 200, description = "The windows.", body = WindowList, headers(
        ("etag" = String, description = "Weak validator, the same in every content coding."), ("link" = Option<String>, description = "The next page."))),
    ReadingProblems,
))]
pub(crate) async fn list_windows(
    State(state): State<ApiState>,
    caller: Caller,
    InPath(slug): InPath<String>,
    Asked(query): Asked<WindowsQuery>,
    uri: Uri,
    asked: HeaderMap,
) -> Result<Response, ApiError> {
    let (club, shared) = documents::club_for(&state, &slug, &caller).await?;
    let paging = Paging::of(query.limit, query.cursor.as_deref())?;
    let LookedFor { from, to, found } = look_for(&state, &club, &query).await?;
    let wanted = wanted(&query, to, &club, state.now())?;
    let of_days = found.openings.iter().filter(|one| one.from.date_naive() >= from);
    let (windows, next) = paging.page(of_days.map(|one| (key(one), one.clone())).collect());
    let link = paging::link(&uri, next.as_deref());
    let body = bytes(&WindowList {
        venue: named(&wanted.venue.id, &wanted.venue.name),
        boat: named(&wanted.boat.id, &wanted.boat.name),
        level: named(&wanted.level.id, &wanted.level.name),
        at_least_min: wanted.at_least.num_minutes(),
        from,
        to,
        no_data: no_data(&found),
        caution: advisory::make::CAUTION_TO_ALL,
        windows,
        next,
    })?;
    Ok(Answer {
        link,
        ..Answer::json(body, Keep::Never, shared)
    }
    .to(&asked))
}

/// What was found in the days that were asked for.
pub(crate) struct LookedFor {
    /// First day.
    pub from: NaiveDate,
    /// Last day.
    pub to: NaiveDate,
    /// What was found from today to the last day.
    pub found: Arc<Windows>,
}

/// Looks for the windows of a club; the same question is computed once for all who ask it meanwhile.
pub(crate) async fn look_for(
    state: &ApiState,
    club: &Arc<Club>,
    query: &WindowsQuery,
) -> Result<LookedFor, ApiError> {
    let now = state.now();
    let (from, to) = days(query, club, now)?;
    wanted(query, to, club, now)?;
    let choice = query.choice(to - today(club, now));
    let question = (club.slug.clone(), club.version.clone(), choice.clone());
    let compute = advisor::windows(&state.store, &state.catalogue, club, choice, now);
    let found = state.windows.answer(question, compute).await?;
    Ok(LookedFor { from, to, found })
}

/// What is looked for, as the club has it.
pub(crate) fn wanted<'a>(
    query: &WindowsQuery,
    to: NaiveDate,
    club: &'a Club,
    now: DateTime<Utc>,
) -> Result<OpeningQuery<'a>, ApiError> {
    let choice = query.choice(to - today(club, now));
    choice.of(club).map_err(|error| super::unknown_key(&error))
}

/// Why nothing can be said at all; none where a run was at hand.
pub(crate) fn no_data(found: &Windows) -> Option<&'static str> {
    (!found.any_run).then_some("No run is kept that is not too old: nothing can be said of any hour.")
}

/// The first and the last day that can be asked for: today at the club, and what a forecast can reach.
pub(crate) fn bounds(club: &Club, now: DateTime<Utc>) -> (NaiveDate, NaiveDate) {
    let today = today(club, now);
    (today, today + TimeDelta::days(LAST_AHEAD))
}

impl WindowsQuery {
    fn choice(&self, after_today: TimeDelta) -> WindowChoice {
        WindowChoice {
            session: self.session.clone(),
            venue: self.venue.clone(),
            boat: self.boat.clone(),
            level: self.level.clone(),
            at_least: self.length.map(|hours| TimeDelta::hours(i64::from(hours))),
            marginal_too: self.call == Wanted::Marginal,
            days: u16::try_from(after_today.num_days()).unwrap_or(0),
        }
    }
}

/// The days looked at, within what a forecast can reach.
fn days(query: &WindowsQuery, club: &Club, now: DateTime<Utc>) -> Result<(NaiveDate, NaiveDate), ApiError> {
    let (today, last) = bounds(club, now);
    let from = query.from.unwrap_or(today);
    if !(today..=last).contains(&from) {
        return Err(ApiError::field("from", format!("a day from {today} to {last}")));
    }
    let to = query
        .to
        .unwrap_or_else(|| last.min(from + TimeDelta::days(USUALLY_AHEAD)));
    if !(from..=last).contains(&to) {
        return Err(ApiError::field("to", format!("a day from {from} to {last}")));
    }
    Ok((from, to))
}

fn named(id: &str, name: &str) -> Named {
    Named {
        id: id.to_owned(),
        name: name.to_owned(),
    }
}

fn key(opening: &Opening) -> Key {
    (opening.from.timestamp(), String::new())
}

/// A length of the query: whole hours in bounds.
fn optional_length<'de, D: Deserializer<'de>>(value: D) -> Result<Option<u16>, D::Error> {
    let said = String::deserialize(value)?;
    let digits = said.bytes().all(|byte| byte.is_ascii_digit());
    let hours = said
        .parse()
        .ok()
        .filter(|hours| digits && (1..=24).contains(hours));
    hours
        .map(Some)
        .ok_or_else(|| D::Error::custom("a whole number of hours from 1 to 24"))
}
