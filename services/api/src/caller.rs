//! Who asks: nobody in particular, or the holder of a token.
//!
//! Owns: what a caller may do. Must not know: how tokens are kept.

use axum::extract::FromRequestParts;
use axum::http::request::Parts;
use std::convert::Infallible;

/// A caller.
#[derive(Clone, Debug, Default)]
pub(crate) struct Caller {
    /// The club whose token the caller holds.
    club: Option<String>,
}

impl Caller {
    /// Whether the caller may read a club that is not public.
    pub(crate) fn may_read(&self, slug: &str) -> bool {
        self.club.as_deref() == Some(slug)
    }
}

impl<S: Send + Sync> FromRequestParts<S> for Caller {
    type Rejection = Infallible;

    /// No token is known yet: every caller is nobody in particular.
    async fn from_request_parts(_: &mut Parts, _: &S) -> Result<Self, Infallible> {
        Ok(Self::default())
    }
}
