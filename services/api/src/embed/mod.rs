//! What other websites show of the sessions: the script of an element, the card in a frame its style sheet, and a preview's picture.
//!
//! Owns: which of these may be framed by anyone and what may run there. Must not know: how a card looks.

mod card;
mod oembed;

use crate::ApiState;
use crate::answer::{Answer, Keep, Tagged};
use crate::cache::Shared;
use axum::Router;
use axum::http::HeaderMap;
use axum::response::Response;
use axum::routing::get;
use present::html;
use std::sync::LazyLock;

/// Their routes.
pub(crate) fn router() -> Router<ApiState> {
    Router::new()
        .route("/embed.js", get(script))
        .route("/embed.css", get(style))
        .route("/preview.png", get(picture))
        .route("/oembed", get(oembed::oembed))
        .route("/embed/sessions/{id}", get(card::of_session))
        .route("/embed/next", get(card::of_next))
}

/// `GET /embed.js`.
async fn script(asked: HeaderMap) -> Response {
    static SCRIPT: LazyLock<Tagged> = LazyLock::new(|| {
        let script = html::embed_script().into_bytes();
        Tagged::new("text/javascript; charset=utf-8", script)
    });
    Answer::of(SCRIPT.clone(), Keep::Release, Shared::Public).to(&asked)
}

/// `GET /embed.css`.
async fn style(asked: HeaderMap) -> Response {
    let tagged = Tagged::new("text/css; charset=utf-8", html::CARD_STYLE.into());
    Answer::of(tagged, Keep::Release, Shared::Public).to(&asked)
}

/// `GET /preview.png`.
async fn picture(asked: HeaderMap) -> Response {
    let tagged = Tagged::new("image/png", html::PREVIEW_PICTURE.into());
    Answer::of(tagged, Keep::Release, Shared::Public).to(&asked)
}
