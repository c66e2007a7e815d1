//! The API under `/v1`: one file a resource. Each handler extracts, asks and answers; its description stands over it and
//! becomes the OpenAPI document.
#![expect(
    unused_qualifications,
    reason = "what utoipa makes of a handler's description repeats its paths"
)]

mod advisories;
mod clubs;
mod conditions;
mod coverage;
mod days;
pub(crate) mod decisions;
mod described;
mod feeds;
mod file;
mod history;
mod runs;
mod sessions;
mod subscriptions;
pub(crate) mod windows;

pub(crate) use conditions::ConditionsQuestion;

use crate::ApiState;
use crate::problem::ApiError;
use axum::Router;
use serde::Serialize;
use utoipa::openapi::security::{HttpAuthScheme, HttpBuilder, SecurityScheme};
use utoipa::{Modify, OpenApi};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

/// What the document says of the whole.
#[derive(OpenApi)]
#[openapi(info(
    title = "Cringle",
    description = "Which sessions of a sailing club can go, with how many reefs and how much headsail, and why, from open \
        forecasts. Times are RFC 3339 with the club's offset; directions are degrees true and say where wind and waves come \
        from; each number's unit stands in its name. Every advisory holds until `valid_until`: after it, it is old and no \
        call. The skipper on the water decides. Every address answers another method than its own with 405 and Allow, and \
        every error is a problem of RFC 9457. A club is read by anyone, or with a token of the scope `read`; writing needs a \
        token of the scope that the address names. To strangers a club that is not public answers as if it did not exist.",
    license(name = "MIT", identifier = "MIT")
), security((), ("token" = ["read"])), modifiers(&Token))]
struct Described;

/// How a token is shown, and the secret of a link.
struct Token;

impl Modify for Token {
    fn modify(&self, document: &mut utoipa::openapi::OpenApi) {
        let bearer = HttpBuilder::new()
            .scheme(HttpAuthScheme::Bearer)
            .description(Some(
                "A token of a club that `cringle token make` made, with its scopes: `read` (a club that is not public), \
                 `decide` (to keep a decision), `club` (to read and write the club's file).",
            ))
            .build();
        let components = document.components.get_or_insert_default();
        components.add_security_scheme("token", SecurityScheme::Http(bearer));
        let link = HttpBuilder::new()
            .scheme(HttpAuthScheme::Bearer)
            .description(Some(
                "The secret of a link in one of the club's mails, the last part of its address: of the mail that asks, to confirm; of any \
                 other, to read, change and end the subscription.",
            ))
            .build();
        components.add_security_scheme("link", SecurityScheme::Http(link));
    }
}

/// The routes and their description.
pub(crate) fn router() -> Router<ApiState> {
    let (routes, document) = OpenApiRouter::with_openapi(Described::openapi())
        .routes(routes!(clubs::list_clubs))
        .routes(routes!(clubs::get_club))
        .routes(routes!(file::get_file, file::put_file))
        .routes(routes!(file::list_versions))
        .routes(routes!(sessions::list_sessions))
        .routes(routes!(advisories::get_advisory))
        .routes(routes!(advisories::get_advisory_here))
        .routes(routes!(advisories::list_advisories))
        .routes(routes!(runs::list_runs))
        .routes(routes!(history::get_history))
        .routes(routes!(decisions::list_decisions, decisions::add_decision))
        .routes(routes!(conditions::get_conditions))
        .routes(routes!(windows::list_windows))
        .routes(routes!(subscriptions::ask_for_subscription))
        .routes(routes!(
            subscriptions::get_subscription,
            subscriptions::choose_for_subscription,
            subscriptions::end_subscription
        ))
        .routes(routes!(subscriptions::confirm_subscription))
        .routes(routes!(feeds::get_calendar))
        .routes(routes!(feeds::get_atom))
        .split_for_parts();
    routes.merge(described::router(document))
}

/// A document as bytes.
fn bytes(document: &impl Serialize) -> Result<Vec<u8>, ApiError> {
    serde_json::to_vec(document).map_err(ApiError::Document)
}

/// A key of the query that the club file does not have.
fn unknown_key(error: &advisor::NoSuchKey) -> ApiError {
    let known = error.known.join(", ");
    ApiError::field(
        error.what,
        format!("the club file has none of this key; it has {known}"),
    )
}
