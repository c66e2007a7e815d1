//! Entity tag and date of a representation, and the requests that depend on them (RFC 9110, section 13).

use crate::content::Content;
use crate::request::Request;
use chrono::{DateTime, Utc};
use sha2::{Digest, Sha256};
use std::fmt::Write;
use std::io;
use std::time::SystemTime;

/// Octets read at once while an entity tag is made.
const HASHED_AT_ONCE: usize = 1 << 20;

/// What tells one version of a file from another.
#[derive(Clone, Debug)]
pub(crate) struct Validators {
    /// Strong entity tag, quotes included.
    pub etag: String,
    pub modified: DateTime<Utc>,
}

/// What a conditional request comes to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Verdict {
    Proceed,
    NotModified,
    PreconditionFailed,
}

/// A strong entity tag of content and size.
pub(crate) fn etag_of(content: &Content) -> io::Result<String> {
    let (size, mut at, mut hash) = (content.size(), 0, Sha256::new());
    while at < size {
        let piece = content.read(at..size, HASHED_AT_ONCE)?;
        hash.update(&piece);
        at += piece.len() as u64;
    }
    Ok(etag_of_digest(&hash.finalize(), size))
}

/// An entity tag of a digest and a size.
pub(crate) fn etag_of_digest(digest: &[u8], size: u64) -> String {
    let mut tag = String::from("\"");
    for octet in digest.iter().take(12) {
        // Writing to a string cannot fail.
        let _ = write!(tag, "{octet:02x}");
    }
    let _ = write!(tag, "-{size:x}\"");
    tag
}

/// A time as HTTP writes it; times before 1970 as 1970.
pub(crate) fn http_date(time: DateTime<Utc>) -> String {
    httpdate::fmt_http_date(SystemTime::from(time.max(DateTime::UNIX_EPOCH)))
}

fn date_in(value: &str) -> Option<i64> {
    let date = httpdate::parse_http_date(value).ok()?;
    Some(DateTime::<Utc>::from(date).timestamp())
}

fn lists(value: &str, etag: &str) -> bool {
    let mut tags = value.split(',').map(str::trim);
    tags.any(|tag| tag == "*" || tag == etag)
}

/// The order of RFC 9110, section 13.2.2.
pub(crate) fn verdict(request: &Request, validators: &Validators) -> Verdict {
    let modified = validators.modified.timestamp();
    if let Some(tags) = request.header("if-match") {
        if !lists(tags, &validators.etag) {
            return Verdict::PreconditionFailed;
        }
    } else if let Some(date) = request.header("if-unmodified-since").and_then(date_in)
        && modified > date
    {
        return Verdict::PreconditionFailed;
    }
    if let Some(tags) = request.header("if-none-match") {
        let weakly = tags.replace("W/", "");
        if lists(&weakly, &validators.etag) {
            return Verdict::NotModified;
        }
    } else if let Some(date) = request.header("if-modified-since").and_then(date_in)
        && modified <= date
    {
        return Verdict::NotModified;
    }
    Verdict::Proceed
}

/// Whether a range may be answered: `If-Range` names this version, or is not there.
pub(crate) fn range_holds(request: &Request, validators: &Validators) -> bool {
    request.header("if-range").is_none_or(|value| {
        value == validators.etag || date_in(value).is_some_and(|date| date == validators.modified.timestamp())
    })
}
