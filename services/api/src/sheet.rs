//! `GET /sheet` and `GET /sheet/{day}`: the notice-board sheet, for paper.
//!
//! Owns: which day is shown. Must not know: how a sheet looks, how many pages it has.

use crate::answer::{Answer, Keep, Tagged};
use crate::cache::Shared;
use crate::caller::Caller;
use crate::extract::{InPath, day};
use crate::media::Media;
use crate::problem::ApiError;
use crate::{ApiState, PublicAddress, documents, forms};
use advisory::Advisory;
use axum::extract::State;
use axum::http::HeaderMap;
use axum::response::Response;
use chrono::{DateTime, NaiveDate, Utc};
use present::html;

/// The first day that has a session still to come; without one, a page that says so.
pub(crate) async fn next(
    State(state): State<ApiState>,
    caller: Caller,
    asked: HeaderMap,
) -> Result<Response, ApiError> {
    let shared = documents::pages_for(&state, &caller).await?;
    let now = state.now();
    let advisories = documents::of_the_board(&state, now).await?;
    let to_come = advisories.iter().filter(|one| one.session.alongside > now);
    let first = to_come.map(date).min();
    answer(&state, first, (advisories, now), shared, &asked).await
}

/// That of a day on the board.
pub(crate) async fn of_day(
    State(state): State<ApiState>,
    caller: Caller,
    InPath(said): InPath<String>,
    asked: HeaderMap,
) -> Result<Response, ApiError> {
    let shared = documents::pages_for(&state, &caller).await?;
    let day = day(&said).map_err(|words| ApiError::field("day", words))?;
    let now = state.now();
    let advisories = documents::of_the_board(&state, now).await?;
    if !advisories.iter().any(|one| date(one) == day) {
        return Err(ApiError::NoSheet { day });
    }
    answer(&state, Some(day), (advisories, now), shared, &asked).await
}

/// The day a session is listed under: that of leaving, at the club.
fn date(advisory: &Advisory) -> NaiveDate {
    advisory.session.leaves.date_naive()
}

async fn answer(
    state: &ApiState,
    day: Option<NaiveDate>,
    (advisories, now): (Vec<Advisory>, DateTime<Utc>),
    shared: Shared,
    asked: &HeaderMap,
) -> Result<Response, ApiError> {
    let club = advisories
        .first()
        .map_or_else(|| forms::only_slug(state), |one| one.club.clone());
    let decisions = documents::decisions(state, &state.club, now).await?;
    let address = state.serving.public_address.as_ref().map(PublicAddress::as_str);
    let told = (now, state.demo.as_deref());
    let page = html::sheet(&club, day, (&advisories, &decisions), told, address)?;
    let until = advisories.iter().map(|one| one.valid_until.to_utc()).collect();
    let tagged = Tagged::new(Media::Html.content_type(), page.into_bytes());
    Ok(Answer::of(tagged, Keep::Until(now, until), shared).to(asked))
}
