//! A problem as a page, for a person whose browser asked for one.
//!
//! Owns: who is shown a page in place of problem details. Must not know: what is wrong.

use crate::ApiState;
use crate::media::accepted_of;
use axum::body::Body;
use axum::extract::Request;
use axum::http::HeaderValue;
use axum::http::header::{CONTENT_ENCODING, CONTENT_TYPE, VARY};
use axum::response::Response;

/// What is wrong, in words; an error leaves it beside its response.
#[derive(Clone)]
pub(crate) struct InWords(pub Vec<String>);

/// True where a page is wanted: outside what is made for programs, and where Accept prefers one.
pub(crate) fn is_wanted(request: &Request) -> bool {
    let path = request.uri().path();
    let for_programs = path.starts_with("/v1/") || path.ends_with(".json");
    let offered = [("application", "problem+json"), ("text", "html")];
    !for_programs && accepted_of(request.headers(), &offered) == Some(1)
}

/// The response, a problem in it as a page where one is wanted.
pub(crate) fn for_people(state: &ApiState, wanted: bool, mut response: Response) -> Response {
    let Some(InWords(words)) = response.extensions_mut().remove().filter(|_| wanted) else {
        return response;
    };
    // A page that cannot be made leaves the problem as it is, in words too.
    let Ok(page) = present::html::problem(response.status().as_u16(), words, state.demo.as_deref()) else {
        return response;
    };
    let headers = response.headers_mut();
    headers.insert(CONTENT_TYPE, HeaderValue::from_static("text/html; charset=utf-8"));
    // The problem may have been compressed by now; the page is not.
    headers.remove(CONTENT_ENCODING);
    headers.append(VARY, HeaderValue::from_static("Accept"));
    *response.body_mut() = Body::from(page);
    response
}
