//! `/decide/{id}`: the form by which the club decides of a session, and keeping what it sends.
//!
//! The token comes in the body and goes nowhere else: not into an address, a cookie, a page or the log.

use super::cross_site::sent_from_here;
use crate::cache;
use crate::caller::Caller;
use crate::extract::InPath;
use crate::media::Media;
use crate::problem::ApiError;
use crate::v1::decisions::{self, NewlyDecided};
use crate::{ApiState, body, documents};
use advisory::{Advisory, Decided, Decision};
use axum::extract::{Request, State};
use axum::http::header::{CONTENT_TYPE, LOCATION, WWW_AUTHENTICATE};
use axum::http::{HeaderValue, StatusCode};
use axum::response::{IntoResponse, Response};
use present::html::{self, DecisionForm};
use serde::Deserialize;
use store::{Scope, TokenSecret};

/// What a browser sends of a form.
const FORM: &str = "application/x-www-form-urlencoded";
/// In place of a decision that was followed, where there was none.
const NONE: &str = "none";

/// What the form sends. It has no `Debug`: it holds a token.
#[derive(Default, Deserialize)]
#[serde(default)]
struct Sent {
    decided: String,
    by: String,
    note: String,
    token: String,
    after: String,
}

/// A session with what the club has decided of it, the last one last.
struct Standing {
    advisory: Advisory,
    decisions: Vec<Decision>,
}

/// `GET /decide/{id}`: the empty form.
pub(crate) async fn form(
    State(state): State<ApiState>,
    caller: Caller,
    InPath(id): InPath<String>,
) -> Result<Response, ApiError> {
    documents::session_page_for(&state, &caller, &id).await?;
    let standing = standing(&state, &id).await?;
    let form = DecisionForm {
        after: standing.newest(),
        ..DecisionForm::default()
    };
    answer(&state, &standing, StatusCode::OK, &form)
}

/// `POST /decide/{id}`: keeps the decision and leads to the session; or the form again, with what is wrong.
pub(crate) async fn decide(
    State(state): State<ApiState>,
    caller: Caller,
    InPath(id): InPath<String>,
    request: Request,
) -> Result<Response, ApiError> {
    if !sent_from_here(request.headers()) {
        return Err(ApiError::SentFromElsewhere);
    }
    documents::session_page_for(&state, &caller, &id).await?;
    let (_, bytes) = body::read(request, &[FORM], decisions::DECISION_AT_MOST).await?;
    let sent: Sent = serde_urlencoded::from_bytes(&bytes)
        .map_err(|_| ApiError::field("body", "this is not what the form sends, each field once"))?;
    // One at a time: of two that were sent at once the second sees the first.
    let _turn = state.deciding.lock().await;
    let standing = standing(&state, &id).await?;
    match keep(&state, &standing, &id, &sent).await {
        Ok(()) => Ok(to_the_session(&id)),
        Err(error) => again(&state, &standing, &sent, error),
    }
}

/// Why nothing was kept.
enum NotKept {
    /// What the API would answer.
    Refused(ApiError),
    /// Another decision has been kept since the form was shown.
    Overtaken,
}

impl From<ApiError> for NotKept {
    fn from(error: ApiError) -> Self {
        Self::Refused(error)
    }
}

async fn keep(state: &ApiState, standing: &Standing, id: &str, sent: &Sent) -> Result<(), NotKept> {
    let slug = state.club.to_string();
    let secret = TokenSecret::parse(sent.token.trim()).ok_or(ApiError::InvalidToken)?;
    let holder = Caller::holding(state, &secret).await?;
    if !holder.may(Scope::Decide, &slug) {
        return Err(ApiError::MissingScope { scope: Scope::Decide }.into());
    }
    let decided = match sent.decided.as_str() {
        "on" => Decided::On,
        "off" => Decided::Off,
        "moved" => Decided::Moved,
        _ => return Err(ApiError::mistaken("decided", "choose one: on, off or moved").into()),
    };
    let new = NewlyDecided {
        session: id.to_owned(),
        decided,
        by: sent.by.clone(),
        note: Some(sent.note.clone()),
    };
    let new = decisions::checked(new, &standing.advisory, state.now())?;
    if sent.after != standing.newest() {
        let same =
            |last: &Decision| (last.decided, &last.by, &last.note) == (new.decided, &new.by, &new.note);
        // Sent twice: it is kept already.
        return match standing.decisions.last() {
            Some(last) if same(last) => Ok(()),
            _ => Err(NotKept::Overtaken),
        };
    }
    decisions::keep(state, &slug, &new).await?;
    Ok(())
}

/// What is said of a mistake: the status, its field, its words, and the challenge where the token is at fault.
type Said = (StatusCode, String, String, Option<String>);

/// What is no mistake of the sender stays a problem.
fn said(error: NotKept) -> Result<Said, ApiError> {
    let of = |status, field: &str, words: &str, challenge| {
        Ok((status, field.to_owned(), words.to_owned(), challenge))
    };
    let refused = match error {
        NotKept::Refused(refused) => refused,
        NotKept::Overtaken => {
            let words =
                "The club has decided meanwhile, as stands above. Send this again if it is to count instead";
            return of(StatusCode::CONFLICT, "after", words, None);
        }
    };
    let challenge = refused.challenge();
    match refused {
        ApiError::InvalidToken => {
            let words = "this is no valid token: it may be mistyped, expired or revoked";
            of(StatusCode::UNAUTHORIZED, "token", words, challenge)
        }
        ApiError::MissingScope { scope } => {
            let words = format!("this token may not decide for this club: it needs the scope {scope}");
            of(StatusCode::FORBIDDEN, "token", &words, challenge)
        }
        ApiError::Mistaken(errors) => match errors.into_iter().next() {
            Some(first) => of(
                StatusCode::UNPROCESSABLE_ENTITY,
                &first.field,
                &first.detail,
                None,
            ),
            None => Err(ApiError::Mistaken(Vec::new())),
        },
        other => Err(other),
    }
}

/// The form with what was typed, but never the token, and what is wrong.
fn again(state: &ApiState, standing: &Standing, sent: &Sent, error: NotKept) -> Result<Response, ApiError> {
    let (status, field, words, challenge) = said(error)?;
    let form = DecisionForm {
        decided: sent.decided.clone(),
        by: sent.by.clone(),
        note: sent.note.clone(),
        after: standing.newest(),
        wrong: Some((field, words)),
    };
    let mut response = answer(state, standing, status, &form)?;
    if let Some(challenge) = challenge.and_then(|words| HeaderValue::try_from(words).ok()) {
        response.headers_mut().insert(WWW_AUTHENTICATE, challenge);
    }
    Ok(response)
}

async fn standing(state: &ApiState, id: &str) -> Result<Standing, ApiError> {
    let issue = documents::of_a_session(state, &state.club, id).await?;
    let mut decisions = documents::decisions(state, &state.club, state.now()).await?;
    decisions.retain(|one| one.session == id);
    Ok(Standing {
        advisory: documents::read(&issue.document)?,
        decisions,
    })
}

impl Standing {
    /// Which decision is the newest, as the form repeats it.
    fn newest(&self) -> String {
        let last = self.decisions.last();
        last.map_or(NONE.to_owned(), |decision| {
            decision.at.timestamp_micros().to_string()
        })
    }
}

fn answer(
    state: &ApiState,
    standing: &Standing,
    status: StatusCode,
    form: &DecisionForm,
) -> Result<Response, ApiError> {
    let Standing { advisory, decisions } = standing;
    let html = html::decide(advisory, decisions, form, state.now(), state.demo.as_deref())?;
    let response = (status, [(CONTENT_TYPE, Media::Html.content_type())], html);
    Ok(cache::not_stored(response.into_response()))
}

/// 303: what follows is a reading of the session's page (RFC 9110, section 15.4.4).
fn to_the_session(id: &str) -> Response {
    let encoded: String = form_urlencoded::byte_serialize(id.as_bytes()).collect();
    let address = format!("/sessions/{}", encoded.replace('+', "%20"));
    let response = (StatusCode::SEE_OTHER, [(LOCATION, address)]);
    cache::not_stored(response.into_response())
}
