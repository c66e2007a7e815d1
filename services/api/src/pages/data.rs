//! `/about-the-data`: the sources, their runs and whose they are.

use super::page;
use crate::caller::Caller;
use crate::problem::ApiError;
use crate::{ApiState, documents};
use axum::extract::State;
use axum::http::HeaderMap;
use axum::response::Response;
use present::html::{self, SourceAbout};
use present::standing::SourceStanding;

/// `GET /about-the-data`.
pub(crate) async fn about_the_data(
    State(state): State<ApiState>,
    caller: Caller,
    asked: HeaderMap,
) -> Result<Response, ApiError> {
    let (club, shared) = documents::club_of_pages(&state, &caller).await?;
    let standings = state.standings(state.now()).await?;
    let sources: Vec<SourceAbout> = standings.into_iter().map(|one| about(&state, one)).collect();
    let html = html::about_the_data(&club, &sources, state.demo.as_deref())?;
    Ok(page(html, shared, &asked))
}

fn about(state: &ApiState, standing: SourceStanding) -> SourceAbout {
    let mut feeds = state.catalogue.feeds().iter();
    let feed = feeds.find(|feed| feed.name.as_str() == standing.source);
    SourceAbout {
        producer: feed.map(|feed| {
            (
                feed.producer.clone(),
                feed.licence.clone(),
                feed.attribution.clone(),
            )
        }),
        standing,
    }
}
