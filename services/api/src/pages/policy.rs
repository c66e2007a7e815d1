//! `/how-we-decide`: the club's file in plain sentences.

use super::page;
use crate::caller::Caller;
use crate::problem::ApiError;
use crate::{ApiState, documents, subscriptions};
use axum::extract::State;
use axum::http::HeaderMap;
use axum::response::Response;
use present::html::{self, Around};

/// `GET /how-we-decide`.
pub(crate) async fn how_we_decide(
    State(state): State<ApiState>,
    caller: Caller,
    asked: HeaderMap,
) -> Result<Response, ApiError> {
    let (club, shared) = documents::club_of_pages(&state, &caller).await?;
    let around = Around {
        demo: state.demo.as_deref(),
        elsewhere: None,
        mail: subscriptions::sends_mail(&state, &club),
    };
    let html = html::how_we_decide(&club, around)?;
    Ok(page(html, shared, &asked))
}
