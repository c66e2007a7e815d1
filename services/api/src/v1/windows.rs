//! `/v1/clubs/{club}/windows`: the stretches of the coming days that are good enough; looked for, never issued.

use super::bytes;
use super::sessions::today;
use crate::answer::{Answer, Keep};
use crate::caller::Caller;
use crate::extract::{Asked, InPath, optional_day, optional_limit};
use crate::paging::{self, Key, Paging};
use crate::problem::{ApiError, ReadingProblems};
use crate::{ApiState, documents};
use advisor::WindowChoice;
use advisory::Opening;
use advisory::document::Named;
use axum::extract::State;
use axum::http::{HeaderMap, Uri};
use axum::response::Response;
use chrono::{NaiveDate, TimeDelta};
use serde::{Deserialize, Deserializer, Serialize, de::Error as _};
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
    let now = state.now();
    let (club, shared) = documents::club_for(&state, &slug, &caller).await?;
    let today = today(&club, now);
    let (from, to) = days(&query, today)?;
    let paging = Paging::of(query.limit, query.cursor.as_deref())?;
    let choice = query.choice(u16::try_from((to - today).num_days() + 1).unwrap_or(1));
    let wanted = choice.of(&club).map_err(|error| super::unknown_key(&error))?;
    let question = (slug, club.version.clone(), choice.clone());
    let compute = advisor::windows(&state.store, &state.catalogue, &club, choice, now);
    let found = state.windows.answer(question, compute).await?;
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
        no_data: (!found.any_run)
            .then_some("No run is kept that is not too old: nothing can be said of any hour."),
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

impl WindowsQuery {
    fn choice(&self, days: u16) -> WindowChoice {
        WindowChoice {
            session: self.session.clone(),
            venue: self.venue.clone(),
            boat: self.boat.clone(),
            level: self.level.clone(),
            at_least: self.length.map(|hours| TimeDelta::hours(i64::from(hours))),
            marginal_too: self.call == Wanted::Marginal,
            days,
        }
    }
}

/// The days looked at, within what a forecast can reach.
fn days(query: &WindowsQuery, today: NaiveDate) -> Result<(NaiveDate, NaiveDate), ApiError> {
    let last = today + TimeDelta::days(LAST_AHEAD);
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
