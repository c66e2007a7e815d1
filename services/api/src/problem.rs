//! Errors as the reader gets them: RFC 9457 problem details, in one place. Causes are logged, not answered.

use axum::http::header::CONTENT_TYPE;
use axum::http::{HeaderValue, StatusCode};
use axum::response::{IntoResponse, Response};
use std::error::Error;

/// What can go wrong with a request.
#[derive(Debug, thiserror::Error)]
pub(crate) enum ApiError {
    #[error(
        "There is no session named {id}, or no advisory was issued for it. The board at / lists those there are."
    )]
    NoSuchSession { id: String },
    #[error("There is no club named {slug}.")]
    NoSuchClub { slug: String },
    #[error("The club's file cannot be read. The operator finds the cause in the log.")]
    ClubFile,
    #[error("There is no page at this address. The board is at /.")]
    NoSuchPage,
    #[error("This address is only read: use GET or HEAD.")]
    WrongMethod,
    #[error("The name of the session in this address is not UTF-8 text. Follow a link of the board at /.")]
    UnreadableName,
    #[error("The store cannot be read. Try again; if it stays so, the operator finds the cause in the log.")]
    Store(#[from] store::StoreError),
    #[error("A stored advisory cannot be read. The operator finds the cause in the log.")]
    Document(#[source] serde_json::Error),
    #[error("The page cannot be made. The operator finds the cause in the log.")]
    Page(#[from] present::PresentError),
}

impl ApiError {
    fn status(&self) -> StatusCode {
        match self {
            Self::NoSuchSession { .. } | Self::NoSuchClub { .. } | Self::NoSuchPage => StatusCode::NOT_FOUND,
            Self::WrongMethod => StatusCode::METHOD_NOT_ALLOWED,
            Self::UnreadableName => StatusCode::BAD_REQUEST,
            Self::Store(_) => StatusCode::SERVICE_UNAVAILABLE,
            Self::Document(_) | Self::ClubFile | Self::Page(_) => StatusCode::INTERNAL_SERVER_ERROR,
        }
    }
}

impl IntoResponse for ApiError {
    fn into_response(self) -> Response {
        let status = self.status();
        if status.is_server_error() {
            tracing::error!(error = %causes(&self), "a request could not be answered");
        }
        let body = serde_json::json!({
            "type": "about:blank",
            "title": status.canonical_reason().unwrap_or_default(),
            "status": status.as_u16(),
            "detail": self.to_string(),
        });
        let mut response = (status, body.to_string()).into_response();
        let json = HeaderValue::from_static("application/problem+json");
        response.headers_mut().insert(CONTENT_TYPE, json);
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
