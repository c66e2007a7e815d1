//! Who asks: nobody in particular, or the holder of a token (RFC 6750: `Authorization: Bearer …`).
//!
//! Owns: reading the header, what a caller may do. Must not know: how tokens are kept; which club is public.

use crate::ApiState;
use crate::problem::ApiError;
use axum::extract::FromRequestParts;
use axum::http::HeaderMap;
use axum::http::header::AUTHORIZATION;
use axum::http::request::Parts;
use store::{Scope, TokenSecret};

/// A caller.
#[derive(Clone, Debug, Default)]
pub(crate) struct Caller(Option<Held>);

/// What a valid token allows.
#[derive(Clone, Debug)]
struct Held {
    club: String,
    scopes: Vec<Scope>,
}

impl Caller {
    /// The holder of a token.
    ///
    /// # Errors
    /// [`ApiError::InvalidToken`] where it is none that is valid now.
    pub(crate) async fn holding(state: &ApiState, secret: &TokenSecret) -> Result<Self, ApiError> {
        let found = state.store.valid_token(secret, state.now()).await?;
        let token = found.ok_or(ApiError::InvalidToken)?.token;
        Ok(Self(Some(Held {
            club: token.club,
            scopes: token.scopes,
        })))
    }

    /// Whether the caller shows no token.
    pub(crate) fn is_nobody(&self) -> bool {
        self.0.is_none()
    }

    /// Whether the caller's token is of a club, whatever it allows.
    pub(crate) fn is_of(&self, slug: &str) -> bool {
        self.0.as_ref().is_some_and(|held| held.club == slug)
    }

    /// Whether the caller's token allows something at a club.
    pub(crate) fn may(&self, scope: Scope, slug: &str) -> bool {
        let allows = |held: &Held| held.club == slug && held.scopes.contains(&scope);
        self.0.as_ref().is_some_and(allows)
    }
}

impl FromRequestParts<ApiState> for Caller {
    type Rejection = ApiError;

    /// A token that is shown and is none ends the request, wherever it asks: its holder must learn that it is of no use.
    async fn from_request_parts(parts: &mut Parts, state: &ApiState) -> Result<Self, ApiError> {
        if !shows_something(&parts.headers) {
            return Ok(Self::default());
        }
        let secret = shown(&parts.headers).ok_or(ApiError::InvalidToken)?;
        Self::holding(state, &secret).await
    }
}

/// Whether the header is there, whatever it holds.
pub(crate) fn shows_something(headers: &HeaderMap) -> bool {
    headers.contains_key(AUTHORIZATION)
}

/// The secret that the header holds, if it is one header that holds one.
pub(crate) fn shown(headers: &HeaderMap) -> Option<TokenSecret> {
    let mut values = headers.get_all(AUTHORIZATION).iter();
    let (value, None) = (values.next()?, values.next()) else {
        return None;
    };
    let (scheme, secret) = value.to_str().ok()?.split_once(' ')?;
    let bearer = scheme.eq_ignore_ascii_case("bearer");
    TokenSecret::parse(secret.trim_matches(' ')).filter(|_| bearer)
}
