//! The pages that links in mails lead to: `/confirm/{secret}`, `/subscription/{secret}`, `/unsubscribe/{secret}`.
//!
//! The secret says whose subscription of which club it is, and is all the right there is: no cookie or login stands behind a
//! request, so that another site's page can have nothing done that it could not do itself. Mail programs open links by
//! themselves: what is opened only asks, and what is sent does. No cache keeps an answer and no other site is told the address.

use super::sent::{FORM, PARTS, Sent, ends, ends_in_parts};
use super::{about, first, not_kept};
use crate::extract::InPath;
use crate::problem::ApiError;
use crate::subscriptions::{self, BODY_AT_MOST};
use crate::{ApiState, body, documents};
use axum::extract::{Request, State};
use axum::http::header::{CONTENT_TYPE, REFERRER_POLICY};
use axum::http::{HeaderValue, StatusCode};
use axum::response::Response;
use club::Club;
use present::html::subscribe::{self, SubscribeForm};
use std::sync::Arc;
use store::{LinkPurpose, Subscription};

/// `GET /confirm/{secret}`: asks.
pub(crate) async fn ask_to_confirm(
    State(state): State<ApiState>,
    InPath(secret): InPath<String>,
) -> Result<Response, ApiError> {
    let Some(found) = subscriptions::of_link(&state, &secret, LinkPurpose::Confirm).await? else {
        return of_no_use(&state, StatusCode::NOT_FOUND).await;
    };
    let club = club_with_mail(&state, &found).await?;
    let wanted = found.asked.as_ref().unwrap_or(&found.choices);
    let already = found.confirmed_at.is_some() && found.asked.is_none();
    let html = subscribe::confirm(about(&state, &club), &found.address, wanted, already)?;
    Ok(secretly(html))
}

/// `POST /confirm/{secret}`: confirms. Twice is as once.
pub(crate) async fn confirm(
    State(state): State<ApiState>,
    InPath(secret): InPath<String>,
) -> Result<Response, ApiError> {
    let Some(found) = subscriptions::of_link(&state, &secret, LinkPurpose::Confirm).await? else {
        return of_no_use(&state, StatusCode::NOT_FOUND).await;
    };
    let club = club_with_mail(&state, &found).await?;
    if !state.store.confirm_subscription(&found.id, state.now()).await? {
        return of_no_use(&state, StatusCode::NOT_FOUND).await;
    }
    let wanted = found.asked.as_ref().unwrap_or(&found.choices);
    Ok(secretly(subscribe::confirmed(about(&state, &club), wanted)?))
}

/// `GET /subscription/{secret}`: the form with what was chosen.
pub(crate) async fn manage(
    State(state): State<ApiState>,
    InPath(secret): InPath<String>,
) -> Result<Response, ApiError> {
    let Some(found) = subscriptions::of_link(&state, &secret, LinkPurpose::Manage).await? else {
        return of_no_use(&state, StatusCode::NOT_FOUND).await;
    };
    let club = club_of(&state, &found).await?.ok_or(ApiError::NoClubFile)?;
    let form = SubscribeForm {
        choices: found.choices,
        ..SubscribeForm::default()
    };
    let html = subscribe::manage(about(&state, &club), &found.address, &form, false)?;
    Ok(secretly(html))
}

/// `POST /subscription/{secret}`: keeps what is chosen now, or ends it.
pub(crate) async fn choose(
    State(state): State<ApiState>,
    InPath(secret): InPath<String>,
    request: Request,
) -> Result<Response, ApiError> {
    let (_, bytes) = body::read(request, &[FORM], BODY_AT_MOST).await?;
    let sent = Sent::read(&bytes);
    let Some(found) = subscriptions::of_link(&state, &secret, LinkPurpose::Manage).await? else {
        return of_no_use(&state, StatusCode::NOT_FOUND).await;
    };
    if sent.end {
        return end(&state, &found).await;
    }
    let club = club_of(&state, &found).await?.ok_or(ApiError::NoClubFile)?;
    let kept = sent.is_whole().and_then(|()| {
        subscriptions::chosen(&club, &sent.choices).map_err(|wrong| ApiError::Mistaken(vec![wrong]))
    });
    let (form, status) = match kept {
        Ok(choices) => {
            if !state.store.choose_for_subscription(&found.id, &choices).await? {
                return of_no_use(&state, StatusCode::NOT_FOUND).await;
            }
            let form = SubscribeForm {
                choices,
                ..SubscribeForm::default()
            };
            (form, StatusCode::OK)
        }
        Err(ApiError::Mistaken(errors)) => {
            let form = SubscribeForm {
                choices: sent.choices,
                wrong: first(errors),
                ..SubscribeForm::default()
            };
            (form, StatusCode::UNPROCESSABLE_ENTITY)
        }
        Err(other) => return Err(other),
    };
    let html = subscribe::manage(about(&state, &club), &found.address, &form, status.is_success())?;
    Ok(with_status(status, html))
}

/// `GET /unsubscribe/{secret}`: asks.
pub(crate) async fn ask_to_end(
    State(state): State<ApiState>,
    InPath(secret): InPath<String>,
) -> Result<Response, ApiError> {
    let Some(found) = subscriptions::of_link(&state, &secret, LinkPurpose::Manage).await? else {
        return of_no_use(&state, StatusCode::NOT_FOUND).await;
    };
    let club = club_of(&state, &found).await?.ok_or(ApiError::NoClubFile)?;
    Ok(secretly(subscribe::ask_to_end(
        about(&state, &club),
        &found.address,
    )?))
}

/// `POST /unsubscribe/{secret}`: ends it, for the page's button and for mail programs (RFC 8058), which send the same pair.
pub(crate) async fn unsubscribe(
    State(state): State<ApiState>,
    InPath(secret): InPath<String>,
    request: Request,
) -> Result<Response, ApiError> {
    let kind = request.headers().get(CONTENT_TYPE).cloned();
    let (which, bytes) = body::read(request, &[FORM, PARTS], BODY_AT_MOST).await?;
    let asks = match which {
        0 => ends(&bytes),
        _ => ends_in_parts(
            kind.as_ref()
                .and_then(|kind| kind.to_str().ok())
                .unwrap_or_default(),
            &bytes,
        ),
    };
    if !asks {
        let words = "this ends it only if it holds List-Unsubscribe=One-Click (RFC 8058)";
        return Err(ApiError::field("body", words));
    }
    match subscriptions::of_link(&state, &secret, LinkPurpose::Manage).await? {
        Some(found) => end(&state, &found).await,
        None => of_no_use(&state, StatusCode::OK).await,
    }
}

async fn end(state: &ApiState, found: &Subscription) -> Result<Response, ApiError> {
    state.store.end_subscription(&found.id).await?;
    Ok(secretly(subscribe::ended(state.demo.as_deref())?))
}

async fn club_of(state: &ApiState, found: &Subscription) -> Result<Option<Arc<Club>>, ApiError> {
    state.clubs.newest(&state.store, &found.club, state.now()).await
}

async fn club_with_mail(state: &ApiState, found: &Subscription) -> Result<Arc<Club>, ApiError> {
    let club = club_of(state, found).await?.ok_or(ApiError::NoClubFile)?;
    subscriptions::must_send_mail(state, &club)?;
    Ok(club)
}

/// One page for a link that expired, ended, or never was one.
async fn of_no_use(state: &ApiState, status: StatusCode) -> Result<Response, ApiError> {
    let own = documents::newest(state, &state.club).await?;
    let here = own.is_some_and(|club| club.public && subscriptions::sends_mail(state, &club));
    Ok(with_status(
        status,
        subscribe::of_no_use(here, state.demo.as_deref())?,
    ))
}

fn secretly(html: String) -> Response {
    with_status(StatusCode::OK, html)
}

fn with_status(status: StatusCode, html: String) -> Response {
    let mut response = not_kept(html);
    *response.status_mut() = status;
    let nobody = HeaderValue::from_static("no-referrer");
    response.headers_mut().insert(REFERRER_POLICY, nobody);
    response
}
