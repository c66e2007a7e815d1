//! Errors as the reader gets them: RFC 9457 problem details, in one place; `problem_page` makes pages of them for people. Causes are logged, not answered.

use crate::problem_page::InWords;
use axum::http::header::{CONTENT_TYPE, RETRY_AFTER, WWW_AUTHENTICATE};
use axum::http::{HeaderValue, StatusCode};
use axum::response::{IntoResponse, Response};
use serde::Serialize;
use std::error::Error;
use std::time::Duration;
use store::Scope;
use utoipa::{IntoResponses, ToSchema};

/// Seconds after which a store that did not answer may be asked again; common practice, no source.
const COME_BACK_AFTER_S: u64 = 5;

/// What can go wrong with a request.
#[derive(Debug, thiserror::Error)]
pub(crate) enum ApiError {
    #[error("There is no session named {id}, or no advisory was issued for it.")]
    NoSuchSession { id: String },
    #[error("There is no club named {slug}.")]
    NoSuchClub { slug: String },
    #[error("The club's file cannot be read. The operator finds the cause in the log.")]
    ClubFile,
    #[error(
        "No file of this club has been kept yet: this page is made from it. Look again when the service has read it."
    )]
    NoClubFile,
    #[error(
        "There is no sheet for {day}: none of the sessions on the board leaves on that day. The next one is at /sheet."
    )]
    NoSheet { day: chrono::NaiveDate },
    #[error(
        "This club sends no mail: its file has no digest_at, or the service has no [mail]. What stands is on its board."
    )]
    NoMail,
    #[error("There is no page at this address. The board is at /, the API is described at /docs.")]
    NoSuchPage,
    #[error("This address does not take that method. The header Allow names those it takes.")]
    WrongMethod,
    #[error("{field}: {detail}")]
    Field { field: String, detail: String },
    #[error(
        "What Authorization shows is no token that is valid: `Bearer` and the secret that `cringle token make` printed. \
         It may have expired or been revoked."
    )]
    InvalidToken,
    #[error(
        "This needs the secret of a link of a mail: `Bearer` and the last part of the link's address. A newer mail has one that works, \
         if this one is too old."
    )]
    NoLink {
        /// Something was shown that is none.
        shown: bool,
    },
    #[error("This needs a token with the scope {scope}, as `cringle token make` makes it.")]
    NoToken { scope: Scope },
    #[error(
        "This form was not sent from a page of this service. Open the session's own page, and decide from there."
    )]
    SentFromElsewhere,
    #[error("The token does not allow this: it needs the scope {scope} at this club.")]
    MissingScope { scope: Scope },
    #[error("None of the media types that Accept names can be given. There are {offered}.")]
    NotAcceptable { offered: &'static str },
    #[error(
        "This club's file lies on the service's own disk and is changed there: its operator gave it to the program. It can \
         be read here."
    )]
    ManagedByFile,
    #[error(
        "Which version is to be replaced? Give If-Match with the ETag of the file as it was read; for a club without a \
         file, If-None-Match: *"
    )]
    NoPrecondition,
    #[error("The club's file is not the version that was named: read it again, and make the change in that.")]
    NotThatVersion,
    #[error("{} The field errors says what is expected.", counted(.0))]
    Mistaken(Vec<FieldError>),
    #[error("This address takes {}: name it in Content-Type.", taken.join(" or "))]
    MediaType { taken: &'static [&'static str] },
    #[error("The body is larger than {at_most} octets: shorten it.")]
    TooLarge { at_most: usize },
    #[error("A frame is described as json or xml: ask for one of these as format.")]
    NoSuchFormat,
    #[error("The store cannot be read. Try again; if it stays so, the operator finds the cause in the log.")]
    Store(#[from] store::StoreError),
    #[error("What was asked cannot be found out. The operator finds the cause in the log.")]
    Advisor(#[from] advisor::AdvisorError),
    #[error("A document cannot be read or written. The operator finds the cause in the log.")]
    Document(#[source] serde_json::Error),
    #[error("This client has asked too often. Try again in {} s.", wait.as_secs())]
    TooOften { wait: Duration },
    #[error("The answer took too long. Try again; if it stays so, the operator finds the cause in the log.")]
    TooSlow,
    #[error("The answer could not be made. The operator finds the cause in the log.")]
    Stopped,
    #[error("The system gives no randomness for a name. The operator finds the cause in the log.")]
    NoRandomness(#[source] getrandom::Error),
    #[error("What is counted cannot be written. The operator finds the cause in the log.")]
    Metrics(#[source] std::fmt::Error),
    #[error("The page cannot be made. The operator finds the cause in the log.")]
    Page(#[from] present::PresentError),
}

impl ApiError {
    /// A field of the address that cannot be used, and what it should be.
    pub(crate) fn field(field: impl Into<String>, detail: impl Into<String>) -> Self {
        Self::Field {
            field: field.into(),
            detail: detail.into(),
        }
    }

    /// A field of the body that cannot be so, and what it should be.
    pub(crate) fn mistaken(field: impl Into<String>, detail: impl Into<String>) -> Self {
        Self::Mistaken(vec![FieldError::new(field, detail)])
    }

    fn status(&self) -> StatusCode {
        match self {
            Self::NoSuchSession { .. }
            | Self::NoSuchClub { .. }
            | Self::NoSheet { .. }
            | Self::NoSuchPage
            | Self::NoMail
            | Self::NoClubFile => StatusCode::NOT_FOUND,
            Self::InvalidToken | Self::NoToken { .. } | Self::NoLink { .. } => StatusCode::UNAUTHORIZED,
            Self::MissingScope { .. } | Self::SentFromElsewhere => StatusCode::FORBIDDEN,
            Self::WrongMethod => StatusCode::METHOD_NOT_ALLOWED,
            Self::Field { .. } => StatusCode::BAD_REQUEST,
            Self::ManagedByFile => StatusCode::CONFLICT,
            Self::NoPrecondition => StatusCode::PRECONDITION_REQUIRED,
            Self::NotThatVersion => StatusCode::PRECONDITION_FAILED,
            Self::Mistaken(_) => StatusCode::UNPROCESSABLE_ENTITY,
            Self::MediaType { .. } => StatusCode::UNSUPPORTED_MEDIA_TYPE,
            Self::TooLarge { .. } => StatusCode::PAYLOAD_TOO_LARGE,
            Self::NoSuchFormat => StatusCode::NOT_IMPLEMENTED,
            Self::NotAcceptable { .. } => StatusCode::NOT_ACCEPTABLE,
            Self::TooOften { .. } => StatusCode::TOO_MANY_REQUESTS,
            Self::Store(_) | Self::TooSlow | Self::Advisor(advisor::AdvisorError::Store(_)) => {
                StatusCode::SERVICE_UNAVAILABLE
            }
            Self::Advisor(_)
            | Self::Document(_)
            | Self::ClubFile
            | Self::Page(_)
            | Self::Stopped
            | Self::NoRandomness(_)
            | Self::Metrics(_) => StatusCode::INTERNAL_SERVER_ERROR,
        }
    }

    /// Seconds after which the same request may do better.
    fn come_back_after(&self) -> Option<u64> {
        match self {
            Self::TooOften { wait } => Some(wait.as_secs()),
            Self::Store(_) | Self::TooSlow => Some(COME_BACK_AFTER_S),
            _ => None,
        }
    }

    /// What the caller should show (RFC 6750, section 3); without an error where nothing was shown.
    pub(crate) fn challenge(&self) -> Option<String> {
        match self {
            Self::InvalidToken | Self::NoLink { shown: true } => {
                Some("Bearer error=\"invalid_token\"".to_owned())
            }
            Self::NoLink { shown: false } => Some("Bearer".to_owned()),
            Self::NoToken { scope } => Some(format!("Bearer scope=\"{scope}\"")),
            Self::MissingScope { scope } => {
                Some(format!("Bearer error=\"insufficient_scope\", scope=\"{scope}\""))
            }
            _ => None,
        }
    }

    fn errors(&self) -> Vec<FieldError> {
        match self {
            Self::Field { field, detail } => vec![FieldError::new(field, detail)],
            Self::Mistaken(errors) => errors.clone(),
            _ => Vec::new(),
        }
    }
}

/// Problem details (RFC 9457).
#[derive(Serialize, ToSchema)]
pub(crate) struct Problem {
    /// `about:blank`: the status says what kind of problem it is.
    #[serde(rename = "type")]
    kind: &'static str,
    /// The status in words.
    title: &'static str,
    /// The status.
    #[schema(minimum = 400, maximum = 599)]
    status: u16,
    /// What is wrong and what to do next.
    detail: String,
    /// The fields of the request that are wrong.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(required = false)]
    errors: Vec<FieldError>,
}

/// A field of the request that is wrong.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub(crate) struct FieldError {
    /// Its name in path, query or body.
    pub field: String,
    /// What is wrong with it.
    pub detail: String,
    /// Its line in the body, from 1, where the body is a text of lines.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(required = false, minimum = 1)]
    pub line: Option<u32>,
    /// Its column in characters, from 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(required = false, minimum = 1)]
    pub column: Option<u32>,
}

impl FieldError {
    /// Without a place in the body.
    pub(crate) fn new(field: impl Into<String>, detail: impl Into<String>) -> Self {
        Self {
            field: field.into(),
            detail: detail.into(),
            line: None,
            column: None,
        }
    }
}

fn counted(errors: &[FieldError]) -> String {
    match errors.len() {
        1 => "One thing in the body cannot be so.".to_owned(),
        several => format!("{several} things in the body cannot be so."),
    }
}

/// What every reading address may answer beside what was asked for.
#[derive(IntoResponses)]
#[expect(dead_code, reason = "only described: the answers are made from ApiError")]
pub(crate) enum ReadingProblems {
    /// What the client holds (If-None-Match) is still what would be answered.
    #[response(status = 304)]
    NotModified,
    /// A field of the address cannot be used; `errors` names it.
    #[response(status = 400, content_type = "application/problem+json")]
    BadRequest(Problem),
    /// What Authorization shows is no valid token; without the header nobody is turned away here.
    #[response(status = 401, content_type = "application/problem+json",
        headers(("www-authenticate" = String, description = "What is wrong with the token (RFC 6750).")))]
    InvalidToken(Problem),
    /// The token of this club does not allow to read it.
    #[response(status = 403, content_type = "application/problem+json",
        headers(("www-authenticate" = String, description = "The scope that is missing (RFC 6750).")))]
    MissingScope(Problem),
    /// There is nothing of that name, or the caller may not know of it.
    #[response(status = 404, content_type = "application/problem+json")]
    NotFound(Problem),
    /// The client has asked too often: Retry-After says in how many seconds it may again.
    #[response(status = 429, content_type = "application/problem+json")]
    TooOften(Problem),
    /// Something kept cannot be read; the operator finds the cause in the log.
    #[response(status = 500, content_type = "application/problem+json")]
    Failed(Problem),
    /// The store does not answer: try again.
    #[response(status = 503, content_type = "application/problem+json")]
    Unavailable(Problem),
}

/// What every writing address may answer beside what was asked for.
#[derive(IntoResponses)]
#[expect(dead_code, reason = "only described: the answers are made from ApiError")]
pub(crate) enum WritingProblems {
    /// A field of the address, or the form of the body, cannot be used; `errors` names it.
    #[response(status = 400, content_type = "application/problem+json")]
    BadRequest(Problem),
    /// No valid token is shown.
    #[response(status = 401, content_type = "application/problem+json",
        headers(("www-authenticate" = String, description = "What is wrong with the token (RFC 6750).")))]
    InvalidToken(Problem),
    /// The token does not allow this at this club.
    #[response(status = 403, content_type = "application/problem+json",
        headers(("www-authenticate" = String, description = "The scope that is missing (RFC 6750).")))]
    MissingScope(Problem),
    /// There is nothing of that name, or the caller may not know of it.
    #[response(status = 404, content_type = "application/problem+json")]
    NotFound(Problem),
    /// The body is too large.
    #[response(status = 413, content_type = "application/problem+json")]
    TooLarge(Problem),
    /// The body is of no media type that is taken.
    #[response(status = 415, content_type = "application/problem+json")]
    MediaType(Problem),
    /// Something in the body cannot be so; `errors` has every mistake and what is expected.
    #[response(status = 422, content_type = "application/problem+json")]
    Mistaken(Problem),
    /// Something kept cannot be read; the operator finds the cause in the log.
    #[response(status = 500, content_type = "application/problem+json")]
    Failed(Problem),
    /// The store does not answer: try again.
    #[response(status = 503, content_type = "application/problem+json")]
    Unavailable(Problem),
}

impl IntoResponse for ApiError {
    fn into_response(self) -> Response {
        let status = self.status();
        if status.is_server_error() {
            tracing::error!(error = %causes(&self), "a request could not be answered");
        }
        let problem = Problem {
            kind: "about:blank",
            title: status.canonical_reason().unwrap_or_default(),
            status: status.as_u16(),
            detail: self.to_string(),
            errors: self.errors(),
        };
        let fields = problem
            .errors
            .iter()
            .map(|error| format!("{}: {}", error.field, error.detail));
        let words = InWords([problem.detail.clone()].into_iter().chain(fields).collect());
        // Text and numbers alone: there is nothing in it that JSON could refuse.
        let body = serde_json::to_vec(&problem).unwrap_or_default();
        let mut response = (status, body).into_response();
        response.extensions_mut().insert(words);
        let json = HeaderValue::from_static("application/problem+json");
        response.headers_mut().insert(CONTENT_TYPE, json);
        if let Some(challenge) = self
            .challenge()
            .and_then(|words| HeaderValue::try_from(words).ok())
        {
            response.headers_mut().insert(WWW_AUTHENTICATE, challenge);
        }
        if let Some(seconds) = self.come_back_after() {
            response
                .headers_mut()
                .insert(RETRY_AFTER, HeaderValue::from(seconds));
        }
        crate::cache::never(response)
    }
}

/// The error with its causes, for the log.
fn causes(error: &ApiError) -> String {
    let mut text = error.to_string();
    let mut cause = error.source();
    while let Some(next) = cause {
        text.push_str(&format!(": {next}"));
        cause = next.source();
    }
    text
}
