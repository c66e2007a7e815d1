//! `/openings`: the stretches of the coming days that are good enough, as a page with its form.

use super::{page, refused};
use crate::caller::Caller;
use crate::extract::asked_in;
use crate::problem::ApiError;
use crate::v1::windows::{self, WindowsQuery};
use crate::{ApiState, documents};
use advisor::Windows;
use axum::extract::{RawQuery, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::Response;
use club::Club;
use present::html::{self, OpeningsAsked, OpeningsFound};
use std::collections::{BTreeSet, HashMap};
use std::sync::Arc;

/// `GET /openings`. A form sends every field, so that an empty one is none; a mistake is said at its field.
pub(crate) async fn openings(
    State(state): State<ApiState>,
    caller: Caller,
    RawQuery(query): RawQuery,
    asked: HeaderMap,
) -> Result<Response, ApiError> {
    let (club, shared) = documents::club_of_pages(&state, &caller).await?;
    let written = written(query.as_deref().unwrap_or_default());
    let demo = state.demo.as_deref();
    let made = match look(&state, &club, &written).await {
        Ok(looked) => {
            let (form, found) = looked.words(&state, &club, &written)?;
            page(html::openings(&form, Ok(&found), demo)?, shared, &asked)
        }
        Err(ApiError::Field { field, detail }) => {
            let form = as_written(&state, &club, &written);
            let html = html::openings(&form, Err((&field, &detail)), demo)?;
            refused(StatusCode::BAD_REQUEST, html, shared)
        }
        Err(other) => return Err(other),
    };
    Ok(made)
}

/// What the form sent, without the fields that were left empty.
type Written = Vec<(String, String)>;

fn written(query: &str) -> Written {
    let pairs = form_urlencoded::parse(query.as_bytes());
    let filled = pairs.filter(|(_, value)| !value.is_empty());
    filled
        .map(|(key, value)| (key.into_owned(), value.into_owned()))
        .collect()
}

/// What was looked for and found.
struct Looked {
    query: WindowsQuery,
    days: (chrono::NaiveDate, chrono::NaiveDate),
    found: Arc<Windows>,
}

async fn look(state: &ApiState, club: &Arc<Club>, written: &Written) -> Result<Looked, ApiError> {
    let text = form_urlencoded::Serializer::new(String::new())
        .extend_pairs(written)
        .finish();
    let query: WindowsQuery = asked_in(&text)?;
    let looked = windows::look_for(state, club, &query).await?;
    Ok(Looked {
        query,
        days: (looked.from, looked.to),
        found: looked.found,
    })
}

impl Looked {
    /// The form as it is answered, and what was found.
    fn words<'a>(
        &'a self,
        state: &ApiState,
        club: &'a Club,
        written: &Written,
    ) -> Result<(OpeningsAsked<'a>, OpeningsFound<'a>), ApiError> {
        let wanted = windows::wanted(&self.query, self.days.1, club, state.now())?;
        let hours = (wanted.at_least.num_minutes() as f64 / 60.0).ceil();
        let form = OpeningsAsked {
            venue: wanted.venue.id.clone(),
            boat: wanted.boat.id.clone(),
            level: wanted.level.id.clone(),
            length: format!("{hours:.0}"),
            marginal_too: wanted.marginal_too,
            ..as_written(state, club, written)
        };
        let found = OpeningsFound {
            query: wanted,
            days: self.days,
            openings: self.found.openings.clone(),
            looked_at: &self.found.days,
            no_data: windows::no_data(&self.found),
            attributions: attributions(state, &self.found),
        };
        Ok((form, found))
    }
}

/// The form as it was sent, whatever it held.
fn as_written<'a>(state: &ApiState, club: &'a Club, written: &Written) -> OpeningsAsked<'a> {
    let of: HashMap<&str, &str> = written
        .iter()
        .map(|(key, value)| (key.as_str(), value.as_str()))
        .collect();
    let held = |key: &str| of.get(key).map_or(String::new(), |value| (*value).to_owned());
    OpeningsAsked {
        club,
        venue: held("venue"),
        boat: held("boat"),
        level: held("level"),
        length: held("length"),
        marginal_too: held("call") == "marginal",
        from: held("from"),
        to: held("to"),
        days: windows::bounds(club, state.now()),
    }
}

/// The sentence of each source whose wind was looked at.
fn attributions(state: &ApiState, found: &Windows) -> Vec<String> {
    let sources: BTreeSet<&str> = found
        .days
        .iter()
        .filter_map(|day| Some(day.by.as_ref()?.0.as_str()))
        .collect();
    let feeds = state.catalogue.feeds().iter();
    feeds
        .filter(|feed| sources.contains(feed.name.as_str()))
        .map(|feed| feed.attribution.clone())
        .collect()
}
