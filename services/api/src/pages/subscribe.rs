//! `/subscribe`: the form by which somebody asks for the club's mail.
//!
//! What is answered, and what is done for it, is the same for an address that is known, new or asked for too often.

mod sent;
pub(crate) mod with_link;

use super::cross_site::sent_from_here;
use super::{page, refused};
use crate::caller::Caller;
use crate::media::Media;
use crate::problem::{ApiError, FieldError};
use crate::subscriptions::{self, BODY_AT_MOST};
use crate::{ApiState, body, cache, documents};
use axum::extract::{Request, State};
use axum::http::header::{CONTENT_TYPE, RETRY_AFTER};
use axum::http::{HeaderMap, HeaderValue, StatusCode};
use axum::response::{IntoResponse, Response};
use club::Club;
use present::html::subscribe::{self, MailOf, SubscribeForm};
use sent::{FORM, Sent};

/// `GET /subscribe`: the empty form.
pub(crate) async fn form(
    State(state): State<ApiState>,
    caller: Caller,
    asked: HeaderMap,
) -> Result<Response, ApiError> {
    let (club, shared) = documents::club_of_pages(&state, &caller).await?;
    subscriptions::must_send_mail(&state, &club)?;
    let html = subscribe::subscribe(about(&state, &club), &SubscribeForm::default())?;
    Ok(page(html, shared, &asked))
}

/// `POST /subscribe`: asks the address; or the form again, with what is wrong.
pub(crate) async fn ask(
    State(state): State<ApiState>,
    caller: Caller,
    request: Request,
) -> Result<Response, ApiError> {
    if !sent_from_here(request.headers()) {
        return Err(ApiError::SentFromElsewhere);
    }
    let (club, _) = documents::club_of_pages(&state, &caller).await?;
    subscriptions::must_send_mail(&state, &club)?;
    let asker = subscriptions::asker(&state, &request);
    let (_, bytes) = body::read(request, &[FORM], BODY_AT_MOST).await?;
    let sent = Sent::read(&bytes);
    match asked_for(&state, &club, &sent, asker).await {
        Ok(()) => Ok(not_kept(subscribe::asked(about(&state, &club))?)),
        Err(error) => again(&state, &club, sent, error),
    }
}

async fn asked_for(
    state: &ApiState,
    club: &Club,
    sent: &Sent,
    asker: Option<std::net::IpAddr>,
) -> Result<(), ApiError> {
    sent.is_whole()?;
    let wanted = subscriptions::wanted(club, &sent.address, &sent.choices)?;
    subscriptions::ask(state, club, wanted, asker).await
}

/// The form with what was typed and what is wrong; what is no mistake of the sender stays a problem.
fn again(state: &ApiState, club: &Club, sent: Sent, error: ApiError) -> Result<Response, ApiError> {
    let (status, wrong, wait) = match error {
        ApiError::Mistaken(errors) => (StatusCode::UNPROCESSABLE_ENTITY, first(errors), None),
        ApiError::TooOften { wait } => {
            let words = format!(
                "too many addresses were asked for from here: try again in {} min",
                wait.as_secs().div_ceil(60)
            );
            let wrong = Some((String::new(), words));
            (StatusCode::TOO_MANY_REQUESTS, wrong, Some(wait.as_secs()))
        }
        other => return Err(other),
    };
    let form = SubscribeForm {
        address: sent.address,
        choices: sent.choices,
        wrong,
    };
    let html = subscribe::subscribe(about(state, club), &form)?;
    let mut response = cache::not_stored(refused(status, html, documents::shared(club)));
    if let Some(seconds) = wait {
        response
            .headers_mut()
            .insert(RETRY_AFTER, HeaderValue::from(seconds));
    }
    Ok(response)
}

fn first(errors: Vec<FieldError>) -> Option<(String, String)> {
    let first = errors.into_iter().next();
    first.map(|error| (error.field, error.detail))
}

/// The club of a page, and what of it this service shows.
fn about<'a>(state: &'a ApiState, club: &'a Club) -> MailOf<'a> {
    MailOf {
        club,
        sent: state.serving.sends_mail,
        shown: *club.slug == *state.club,
        demo: state.demo.as_deref(),
    }
}

/// A page that no cache keeps.
fn not_kept(html: String) -> Response {
    cache::not_stored(([(CONTENT_TYPE, Media::Html.content_type())], html).into_response())
}
