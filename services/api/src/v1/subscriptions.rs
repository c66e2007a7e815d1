//! `/v1/clubs/{club}/subscriptions` and `/v1/clubs/{club}/subscription`: asking for a club's mail, and what the holder of a
//! link's secret may do with a subscription.
//!
//! Must not know: how a mail is made. No problem of these addresses repeats anything of a body: an address may stand anywhere in it.

use super::bytes;
use crate::caller::{self, Caller};
use crate::extract::InPath;
use crate::problem::{ApiError, Problem, WritingProblems};
use crate::subscriptions::{self, BODY_AT_MOST};
use crate::{ApiState, body, cache, documents};
use axum::extract::{Request, State};
use axum::http::header::CONTENT_TYPE;
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Response};
use chrono::Weekday;
use club::{Choices, Club};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use std::sync::Arc;
use store::{LinkPurpose, Subscription};
use utoipa::ToSchema;
use utoipa::openapi::schema::{Array, ArrayBuilder, ObjectBuilder, Type};

/// A subscription that is asked for.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct SubscriptionAsked {
    /// Where to: an address that takes mail.
    #[schema(format = Email, max_length = 254)]
    address: String,
    /// Keys of levels; without any, all of them.
    #[serde(default)]
    levels: Vec<String>,
    /// Keys of boats; without any, all of them.
    #[serde(default)]
    boats: Vec<String>,
    #[serde(default)]
    #[schema(schema_with = weekdays)]
    weekdays: Vec<Weekday>,
    /// The daily mail only on days on which one of these sessions may sail.
    #[serde(default)]
    only_when_sailing: bool,
    /// Also a mail when a call or decision changes after the club's hour.
    #[serde(default = "yes")]
    changes: bool,
}

/// What a subscriber is told. What is left out is as in a new subscription.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(default, deny_unknown_fields)]
pub(crate) struct SubscriptionChoices {
    /// Keys of levels; none: all of them.
    levels: Vec<String>,
    /// Keys of boats; none: all of them.
    boats: Vec<String>,
    #[schema(schema_with = weekdays)]
    weekdays: Vec<Weekday>,
    /// The daily mail only on days on which one of these sessions may sail.
    only_when_sailing: bool,
    /// Also a mail when a call or decision changes after the club's hour.
    changes: bool,
}

/// That something was asked for.
#[derive(Serialize, ToSchema)]
pub(crate) struct SubscriptionTaken {
    /// What happens next.
    detail: &'static str,
}

/// The members of a body and what each is.
const MEMBERS: [(&str, &str); 6] = [
    ("address", "an address such as crew@club.example"),
    ("levels", "a list of keys of the club's levels"),
    ("boats", "a list of keys of the club's boats"),
    ("weekdays", "a list of days: Mon, Tue, Wed, Thu, Fri, Sat, Sun"),
    ("only_when_sailing", "true or false"),
    ("changes", "true or false"),
];

/// A list of days by the first three letters of their English names.
fn weekdays() -> Array {
    let days = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"];
    let day = ObjectBuilder::new()
        .schema_type(Type::String)
        .enum_values(Some(days));
    ArrayBuilder::new()
        .description(Some(
            "Days on which a session leaves, at the club; none: all of them.",
        ))
        .items(day)
        .build()
}

fn yes() -> bool {
    true
}

impl Default for SubscriptionChoices {
    fn default() -> Self {
        Choices::default().into()
    }
}

impl From<Choices> for SubscriptionChoices {
    fn from(choices: Choices) -> Self {
        let Choices {
            levels,
            boats,
            weekdays,
            only_when_sailing,
            changes,
        } = choices;
        Self {
            levels,
            boats,
            weekdays,
            only_when_sailing,
            changes,
        }
    }
}

impl From<SubscriptionChoices> for Choices {
    fn from(asked: SubscriptionChoices) -> Self {
        Self {
            levels: asked.levels,
            boats: asked.boats,
            weekdays: asked.weekdays,
            only_when_sailing: asked.only_when_sailing,
            changes: asked.changes,
        }
    }
}

/// Ask for a club's mail.
///
/// A mail asks the address first; its link confirms. What is answered is the same whether the address is known, new, or was asked
/// for too often, and so is not a word about it.
#[utoipa::path(post, path = "/v1/clubs/{club}/subscriptions", tag = "subscriptions", params(
    ("club" = String, Path, description = "Short name of the club.")
), request_body = SubscriptionAsked, responses(
    (status = 202, description = "A mail is on its way, if the address takes mail.", body = SubscriptionTaken),
    (status = 429, description = "The client has asked too often, or for too many addresses: Retry-After says in how many seconds it may again.",
        body = Problem, content_type = "application/problem+json"),
    WritingProblems,
))]
pub(crate) async fn ask_for_subscription(
    State(state): State<ApiState>,
    caller: Caller,
    InPath(slug): InPath<String>,
    request: Request,
) -> Result<Response, ApiError> {
    let (club, _) = documents::club_for(&state, &slug, &caller).await?;
    subscriptions::must_send_mail(&state, &club)?;
    let asker = subscriptions::asker(&state, &request);
    let asked: SubscriptionAsked = read(request).await?;
    let choices = Choices {
        levels: asked.levels,
        boats: asked.boats,
        weekdays: asked.weekdays,
        only_when_sailing: asked.only_when_sailing,
        changes: asked.changes,
    };
    let wanted = subscriptions::wanted(&club, &asked.address, &choices)?;
    subscriptions::ask(&state, &club, wanted, asker).await?;
    let taken = SubscriptionTaken {
        detail: "If this is an address that takes mail, a mail is on its way to it: its link confirms. Until then nothing else is sent.",
    };
    json(StatusCode::ACCEPTED, &taken)
}

/// Confirm a subscription, with the secret of the link in the mail that asks. Twice is as once.
#[utoipa::path(put, path = "/v1/clubs/{club}/subscription/confirmation", tag = "subscriptions", params(
    ("club" = String, Path, description = "Short name of the club.")
), security(("link" = [])), responses(
    (status = 200, description = "What holds from now on.", body = SubscriptionChoices),
    WritingProblems,
))]
pub(crate) async fn confirm_subscription(
    State(state): State<ApiState>,
    InPath(slug): InPath<String>,
    asked: HeaderMap,
) -> Result<Response, ApiError> {
    let found = held(&state, &slug, LinkPurpose::Confirm, &asked).await?;
    subscriptions::must_send_mail(&state, &*club_of(&state, &found).await?)?;
    if !state.store.confirm_subscription(&found.id, state.now()).await? {
        return Err(ApiError::NoLink { shown: true });
    }
    told(found.asked.unwrap_or(found.choices))
}

/// What a subscriber is told.
#[utoipa::path(get, path = "/v1/clubs/{club}/subscription", tag = "subscriptions", params(
    ("club" = String, Path, description = "Short name of the club.")
), security(("link" = [])), responses(
    (status = 200, description = "What was chosen.", body = SubscriptionChoices),
    WritingProblems,
))]
pub(crate) async fn get_subscription(
    State(state): State<ApiState>,
    InPath(slug): InPath<String>,
    asked: HeaderMap,
) -> Result<Response, ApiError> {
    told(held(&state, &slug, LinkPurpose::Manage, &asked).await?.choices)
}

/// Choose anew: the whole of it is replaced.
#[utoipa::path(put, path = "/v1/clubs/{club}/subscription", tag = "subscriptions", params(
    ("club" = String, Path, description = "Short name of the club.")
), request_body = SubscriptionChoices, security(("link" = [])), responses(
    (status = 200, description = "What is kept: each key once, in the club's order, and none where all were named.", body = SubscriptionChoices),
    WritingProblems,
))]
pub(crate) async fn choose_for_subscription(
    State(state): State<ApiState>,
    InPath(slug): InPath<String>,
    request: Request,
) -> Result<Response, ApiError> {
    let found = held(&state, &slug, LinkPurpose::Manage, request.headers()).await?;
    let asked: SubscriptionChoices = read(request).await?;
    let club = club_of(&state, &found).await?;
    let chosen = subscriptions::chosen(&club, &asked.into());
    let chosen = chosen.map_err(|wrong| ApiError::Mistaken(vec![wrong]))?;
    if !state.store.choose_for_subscription(&found.id, &chosen).await? {
        return Err(ApiError::NoLink { shown: true });
    }
    told(chosen)
}

/// End it: the address and all that was chosen are deleted, and nothing more is sent.
#[utoipa::path(delete, path = "/v1/clubs/{club}/subscription", tag = "subscriptions", params(
    ("club" = String, Path, description = "Short name of the club.")
), security(("link" = [])), responses(
    (status = 204, description = "It has ended; its links allow nothing any more."),
    WritingProblems,
))]
pub(crate) async fn end_subscription(
    State(state): State<ApiState>,
    InPath(slug): InPath<String>,
    asked: HeaderMap,
) -> Result<Response, ApiError> {
    let found = held(&state, &slug, LinkPurpose::Manage, &asked).await?;
    state.store.end_subscription(&found.id).await?;
    Ok(cache::not_stored(StatusCode::NO_CONTENT.into_response()))
}

/// The subscription whose link's secret is shown, if it is one at this club.
async fn held(
    state: &ApiState,
    slug: &str,
    purpose: LinkPurpose,
    headers: &HeaderMap,
) -> Result<Subscription, ApiError> {
    let secret = caller::shown(headers).ok_or_else(|| ApiError::NoLink {
        shown: caller::shows_something(headers),
    })?;
    let found = subscriptions::of_secret(state, &secret, purpose).await?;
    let here = found.filter(|subscription| subscription.club == slug);
    here.ok_or(ApiError::NoLink { shown: true })
}

async fn club_of(state: &ApiState, of: &Subscription) -> Result<Arc<Club>, ApiError> {
    let club = documents::newest(state, &of.club).await?;
    club.ok_or(ApiError::NoClubFile)
}

async fn read<T: DeserializeOwned>(request: Request) -> Result<T, ApiError> {
    let (_, bytes) = body::read(request, &["application/json"], BODY_AT_MOST).await?;
    let read = body::json(&bytes).map_err(unrepeated)?;
    // A list would be read too, member by member.
    if bytes.trim_ascii_start().starts_with(b"{") {
        Ok(read)
    } else {
        Err(no_such_body())
    }
}

fn no_such_body() -> ApiError {
    let names = MEMBERS.map(|(name, _)| name).join(", ");
    ApiError::mistaken(
        "body",
        format!("an object with members of {names} and nothing else"),
    )
}

/// The same mistake in words that hold nothing of the body.
fn unrepeated(error: ApiError) -> ApiError {
    match error {
        ApiError::Field { .. } => ApiError::field("body", "this is not JSON"),
        ApiError::Mistaken(errors) => {
            let named = |field: &str| {
                MEMBERS
                    .iter()
                    .find(|(name, _)| field.split(['.', '[']).next() == Some(name))
            };
            match errors.iter().find_map(|error| named(&error.field)) {
                Some((name, expected)) => ApiError::mistaken(*name, *expected),
                None => no_such_body(),
            }
        }
        other => other,
    }
}

fn told(choices: Choices) -> Result<Response, ApiError> {
    json(StatusCode::OK, &SubscriptionChoices::from(choices))
}

/// Kept by no cache.
fn json(status: StatusCode, document: &impl Serialize) -> Result<Response, ApiError> {
    let kind = [(CONTENT_TYPE, "application/json")];
    let response = (status, kind, bytes(document)?).into_response();
    Ok(cache::not_stored(response))
}
