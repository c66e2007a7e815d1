//! The advisories that stand, from the store.

use crate::ApiState;
use crate::problem::ApiError;
use advisory::{Advisory, Decision};
use chrono::{DateTime, TimeDelta, Utc};

/// A session is called at most ten days ahead; what was last issued longer ago than this is off the board.
const LOOK_BACK: TimeDelta = TimeDelta::days(16);

/// The advisories of sessions that end today, at the club, or later.
pub(crate) async fn of_the_board(state: &ApiState, now: DateTime<Utc>) -> Result<Vec<Advisory>, ApiError> {
    let documents = state
        .store
        .standing_documents(&state.club, now - LOOK_BACK)
        .await?;
    let mut advisories = Vec::with_capacity(documents.len());
    for document in documents {
        match read(&document) {
            Ok(advisory) if is_coming(&advisory, now) => advisories.push(advisory),
            Ok(_) => {}
            // One that cannot be read must not take the others off the board.
            Err(error) => {
                tracing::error!(%error, "a stored advisory cannot be read and is left off the board")
            }
        }
    }
    Ok(advisories)
}

/// What the club has decided of sessions on the board, in the order it decided.
pub(crate) async fn decisions(state: &ApiState, now: DateTime<Utc>) -> Result<Vec<Decision>, ApiError> {
    let kept = state.store.decisions(&state.club, now - LOOK_BACK, now).await?;
    let read = |document: &[u8]| serde_json::from_slice(document).map_err(ApiError::Document);
    kept.iter().map(|decision| read(&decision.document)).collect()
}

/// The bytes of the advisory that stands for a session.
pub(crate) async fn of_a_session(state: &ApiState, id: &str) -> Result<Vec<u8>, ApiError> {
    let found = state.store.latest_advisory(&state.club, id).await?;
    let standing = found.ok_or_else(|| ApiError::NoSuchSession { id: id.to_owned() })?;
    Ok(standing.advisory.document)
}

/// The document as it was issued.
pub(crate) fn read(document: &[u8]) -> Result<Advisory, ApiError> {
    serde_json::from_slice(document).map_err(ApiError::Document)
}

fn is_coming(advisory: &Advisory, now: DateTime<Utc>) -> bool {
    let alongside = advisory.session.alongside;
    alongside.date_naive() >= now.with_timezone(alongside.offset()).date_naive()
}
