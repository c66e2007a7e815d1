//! What a server's answer is taken for, and what its header lines say (RFC 9110).
//!
//! Must not know: what was asked for beyond its range, when it is asked for again.

use crate::retry::retry_after;
use bytes::Bytes;
use feeds::ByteRange;
use reqwest::Response;
use reqwest::header::{CONTENT_RANGE, DATE, HeaderName, LAST_MODIFIED, RETRY_AFTER};
use std::time::{Duration, SystemTime};

/// An answer that can be used.
pub enum Answer {
    Absent,
    PastTheEnd,
    Unchanged,
    Octets(Octets),
}

/// What a body holds.
pub struct Octets {
    /// Place of the first octet in the file.
    pub first: u64,
    /// The octets.
    pub octets: Bytes,
    /// The file's strong entity tag.
    pub tag: Option<String>,
    /// What the server says of time.
    pub times: Times,
}

/// What the server says of time.
#[derive(Clone, Copy, Debug, Default)]
pub struct Times {
    /// Its own clock.
    pub now: Option<SystemTime>,
    /// When the file was last changed.
    pub changed: Option<SystemTime>,
}

/// Why an answer cannot be used.
pub enum Trouble {
    /// It may pass; the server asked for this wait.
    Passing(String, Option<Duration>),
    /// It will not pass by asking again now.
    Lasting(String),
    /// The file itself cannot be used.
    Unusable(String),
}

/// The place and length of what a 206 holds: what was asked for, or as much of it as the file has.
pub fn partial(response: &Response, asked: ByteRange) -> Result<(u64, u64), Trouble> {
    let told = header(response, &CONTENT_RANGE).unwrap_or_default();
    let wrong = || {
        Trouble::Passing(
            format!("the server sends the range {told:?}, not the one asked for"),
            None,
        )
    };
    let (range, total) = told
        .strip_prefix("bytes ")
        .and_then(|range| range.split_once('/'))
        .ok_or_else(wrong)?;
    let (first, last) = range.split_once('-').ok_or_else(wrong)?;
    let number = |text: &str| text.parse::<u64>().map_err(|_| wrong());
    let (first, last) = (number(first)?, number(last)?);
    let to_the_end = total.parse::<u64>().ok() == last.checked_add(1);
    let right_end = match asked.last {
        Some(asked) => last == asked || (last < asked && to_the_end),
        None => to_the_end || total == "*",
    };
    if first != asked.first || last < first || !right_end {
        return Err(wrong());
    }
    Ok((first, (last - first).saturating_add(1)))
}

/// What an answer says of time.
pub fn times(response: &Response) -> Times {
    let time = |name| httpdate::parse_http_date(header(response, &name)?).ok();
    Times {
        now: time(DATE),
        changed: time(LAST_MODIFIED),
    }
}

/// A header line as text; none if it is absent or no text.
pub fn header<'a>(response: &'a Response, name: &HeaderName) -> Option<&'a str> {
    response.headers().get(name)?.to_str().ok()
}

/// The wait that the server asks for.
pub fn asked_wait(response: &Response) -> Option<Duration> {
    retry_after(header(response, &RETRY_AFTER)?, header(response, &DATE))
}
