//! Advisories and the board in the forms they are sent in, each made once for all who ask within a moment.
//!
//! Owns: what each form is made from. Must not know: who may read it, in which form it is asked for.

use crate::answer::{Answer, Tagged};
use crate::cache::Shared;
use crate::finished::{Finished, Which};
use crate::front::ForEveryone;
use crate::media::Media;
use crate::problem::ApiError;
use crate::{ApiState, documents, subscriptions};
use advisory::document::ClubName;
use axum::http::HeaderMap;
use axum::response::Response;
use chrono::{DateTime, Utc};
use present::html::{self, Around, Elsewhere};
use present::{calendar, terminal};
use std::sync::Arc;
use std::time::Instant;

/// The advisory that stands for a session of a club.
pub(crate) async fn of_session(
    state: &ApiState,
    slug: String,
    session: String,
    media: Media,
    (shared, negotiated): (Shared, bool),
    asked: &HeaderMap,
) -> Result<Response, ApiError> {
    let now = state.now();
    let which = Which {
        slug,
        session: Some(session),
        media,
    };
    let make = session_in_form(state, which.clone(), now);
    let found = state.finished.get(which, now, make).await?;
    Ok(respond(found, now, (shared, negotiated), asked))
}

/// The board of the club whose pages this service shows.
pub(crate) async fn board(state: &ApiState, shared: Shared, asked: &HeaderMap) -> Result<Response, ApiError> {
    let now = state.now();
    let which = Which {
        slug: state.club.to_string(),
        session: None,
        media: Media::Html,
    };
    let make = board_page(state, now);
    let found = state.finished.get(which, now, make).await?;
    Ok(respond(found, now, (shared, false), asked))
}

/// The response, and beside it what serves everyone else who asks the same.
fn respond(
    finished: Arc<Finished>,
    now: DateTime<Utc>,
    (shared, negotiated): (Shared, bool),
    asked: &HeaderMap,
) -> Response {
    let answer = ForEveryone { finished, negotiated };
    let mut response = Answer {
        shared,
        ..answer.answer(now)
    }
    .to(asked);
    if shared == Shared::Public {
        response.extensions_mut().insert(answer);
    }
    response
}

/// JSON is the bytes that were issued; the others say what may be shown now.
async fn session_in_form(state: &ApiState, which: Which, now: DateTime<Utc>) -> Result<Finished, ApiError> {
    let Which { slug, session, media } = which;
    let issue = documents::of_a_session(state, &slug, &session.unwrap_or_default()).await?;
    let advisory = documents::read(&issue.document)?;
    let body = match media {
        Media::Json => issue.document,
        Media::Calendar => {
            let decisions = documents::decisions(state, &slug, now).await?;
            let standing = calendar::Standing {
                advisory: &advisory,
                revision: issue.revision,
            };
            calendar::event(standing, &decisions, now, &|id| state.page_of(&slug, id)).into_bytes()
        }
        Media::Html => {
            let decisions = documents::decisions(state, &slug, now).await?;
            let elsewhere = state.elsewhere(state.page_of(&slug, &advisory.session.id));
            html::session(&advisory, &decisions, now, around(state, elsewhere.as_ref()))?.into_bytes()
        }
        Media::Text => {
            let decisions = documents::decisions(state, &slug, now).await?;
            terminal::session(
                &advisory,
                &decisions,
                None,
                now,
                terminal::Style { colour: false },
            )
            .into_bytes()
        }
    };
    Ok(Finished {
        tagged: Tagged::new(media.content_type(), body),
        made_at: now,
        made: Instant::now(),
        until: vec![advisory.valid_until.to_utc()],
    })
}

async fn board_page(state: &ApiState, now: DateTime<Utc>) -> Result<Finished, ApiError> {
    let advisories = documents::of_the_board(state, now).await?;
    let club = advisories
        .first()
        .map_or_else(|| only_slug(state), |advisory| advisory.club.clone());
    let file = documents::newest(state, &state.club).await?;
    let mail = file.is_some_and(|file| subscriptions::sends_mail(state, &file));
    let decisions = documents::decisions(state, &state.club, now).await?;
    let elsewhere = state.elsewhere(state.board_of(&state.club));
    let page = html::board(
        &club,
        &advisories,
        &decisions,
        now,
        Around {
            mail,
            ..around(state, elsewhere.as_ref())
        },
    )?;
    Ok(Finished {
        tagged: Tagged::new(Media::Html.content_type(), page.into_bytes()),
        made_at: now,
        made: Instant::now(),
        until: advisories
            .iter()
            .map(|advisory| advisory.valid_until.to_utc())
            .collect(),
    })
}

fn around<'a>(state: &'a ApiState, elsewhere: Option<&'a Elsewhere>) -> Around<'a> {
    Around {
        demo: state.demo.as_deref(),
        elsewhere,
        mail: false,
    }
}

/// The club of an empty board: no document tells its full name.
pub(crate) fn only_slug(state: &ApiState) -> ClubName {
    ClubName {
        slug: state.club.to_string(),
        name: state.club.to_string(),
        time_zone: String::new(),
        contact: None,
    }
}
