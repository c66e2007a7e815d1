//! The body of a request: of a media type that is taken, within its bounds.
//!
//! Must not know: what it says.

use crate::problem::ApiError;
use axum::body::Bytes;
use axum::extract::{DefaultBodyLimit, FromRequest, Request};
use axum::http::header::CONTENT_TYPE;
use axum::http::{HeaderMap, StatusCode};
use serde::de::DeserializeOwned;

/// The body, and where in `taken` its media type stands.
///
/// # Errors
/// [`ApiError::MediaType`], [`ApiError::TooLarge`], or [`ApiError::Field`] where the client breaks off.
pub(crate) async fn read(
    mut request: Request,
    taken: &'static [&'static str],
    at_most: usize,
) -> Result<(usize, Bytes), ApiError> {
    let kind = kind(request.headers(), taken).ok_or(ApiError::MediaType { taken })?;
    DefaultBodyLimit::max(at_most).apply(&mut request);
    match Bytes::from_request(request, &()).await {
        Ok(bytes) => Ok((kind, bytes)),
        Err(refused) if refused.status() == StatusCode::PAYLOAD_TOO_LARGE => {
            Err(ApiError::TooLarge { at_most })
        }
        Err(_) => Err(ApiError::field("body", "it broke off: send it again")),
    }
}

/// Parameters of a media type, such as its charset, are passed over: TOML and JSON are UTF-8 (RFC 8259, section 8.1).
fn kind(headers: &HeaderMap, taken: &[&str]) -> Option<usize> {
    let said = headers.get(CONTENT_TYPE)?.to_str().ok()?;
    let essence = said.split(';').next().unwrap_or_default().trim();
    taken.iter().position(|one| one.eq_ignore_ascii_case(essence))
}

/// A document of JSON.
///
/// # Errors
/// [`ApiError::Field`] for what is not JSON, [`ApiError::Mistaken`] for a member that is not as it should be.
pub(crate) fn json<T: DeserializeOwned>(bytes: &[u8]) -> Result<T, ApiError> {
    let mut reader = serde_json::Deserializer::from_slice(bytes);
    let read = serde_path_to_error::deserialize(&mut reader);
    let read = read.map_err(|error| (error.path().to_string(), error.into_inner()));
    let whole = read.and_then(|read| match reader.end() {
        Ok(()) => Ok(read),
        Err(error) => Err((".".to_owned(), error)),
    });
    whole.map_err(|(path, error)| {
        let detail = error.to_string();
        if !error.is_data() {
            return ApiError::field("body", format!("this is not JSON: {detail}"));
        }
        let quoted = detail.split('`').nth(1).map(str::to_owned);
        let field = Some(path).filter(|path| path != ".").or(quoted);
        ApiError::mistaken(field.unwrap_or("body".to_owned()), detail)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use axum::http::HeaderValue;

    // Source: RFC 9110, section 8.3.1 (types are compared without case, parameters follow a semicolon).
    #[test]
    fn a_media_type_is_known_whatever_its_case_and_parameters() {
        let taken = ["application/toml", "application/json"];
        for (said, expected) in [
            ("application/json", Some(1)),
            ("Application/TOML ; charset=utf-8", Some(0)),
            ("application/json5", None),
            ("text/plain", None),
            ("", None),
        ] {
            let mut headers = HeaderMap::new();
            headers.insert(CONTENT_TYPE, HeaderValue::from_static(said));
            assert_eq!(kind(&headers, &taken), expected, "{said}");
        }
        assert_eq!(kind(&HeaderMap::new(), &taken), None);
    }
}
