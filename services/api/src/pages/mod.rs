//! The pages that are made from the club's file and the runs rather than from advisories: one file a page.
//!
//! Owns: what each page is asked and with which status it answers. Must not know: how a page looks.

mod cross_site;
mod data;
mod decide;
mod openings;
mod policy;
mod subscribe;

use crate::ApiState;
use crate::answer::{Answer, Keep, Tagged};
use crate::cache::{self, Shared};
use crate::media::Media;
use axum::Router;
use axum::http::header::CONTENT_TYPE;
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use subscribe::with_link;

/// Their routes.
pub(crate) fn router() -> Router<ApiState> {
    Router::new()
        .route("/openings", get(openings::openings))
        .route("/how-we-decide", get(policy::how_we_decide))
        .route("/about-the-data", get(data::about_the_data))
        .route("/decide/{id}", get(decide::form).post(decide::decide))
        .route("/subscribe", get(subscribe::form).post(subscribe::ask))
        .route(
            "/confirm/{secret}",
            get(with_link::ask_to_confirm).post(with_link::confirm),
        )
        .route(
            "/subscription/{secret}",
            get(with_link::manage).post(with_link::choose),
        )
        .route(
            "/unsubscribe/{secret}",
            get(with_link::ask_to_end).post(with_link::unsubscribe),
        )
}

/// A page that is asked for again each time: it changes with the runs and with the day.
fn page(html: String, shared: Shared, asked: &HeaderMap) -> Response {
    let tagged = Tagged::new(Media::Html.content_type(), html.into_bytes());
    Answer::of(tagged, Keep::Never, shared).to(asked)
}

/// A page that says what is wrong with what was sent.
fn refused(status: StatusCode, html: String, shared: Shared) -> Response {
    let response = (status, [(CONTENT_TYPE, Media::Html.content_type())], html);
    cache::never_shared(response.into_response(), shared)
}
