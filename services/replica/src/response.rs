//! An answer, before it is octets: status, headers, body, and how the body is delivered.
//!
//! Must not know: why an answer is as it is.

use crate::content::Content;
use std::fmt::Write;
use std::ops::Range;
use std::time::Duration;

/// How fast a body leaves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Pace {
    Unbounded,
    PerSecond(u64),
    /// So many octets, then a pause.
    Pieces {
        octets: u64,
        pause: Duration,
    },
}

/// Where a body ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Ending {
    Whole,
    /// Neither head nor body is sent; the connection is closed.
    Unanswered,
    /// The connection is closed after so many octets.
    CutAfter(u64),
    /// Nothing more comes after so many octets, and the connection stays open.
    StallsAfter(u64),
}

/// How a body is delivered.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Delivery {
    pub pace: Pace,
    pub ending: Ending,
    /// Added to the true length in `Content-Length`; the connection closes after the body unless it is 0.
    pub length_lie: i64,
}

impl Delivery {
    pub fn at(pace: Option<u64>) -> Self {
        Self {
            pace: pace.map_or(Pace::Unbounded, Pace::PerSecond),
            ending: Ending::Whole,
            length_lie: 0,
        }
    }
}

/// An answer.
#[derive(Clone, Debug)]
pub(crate) struct Response {
    pub status: u16,
    pub headers: Vec<(&'static str, String)>,
    pub content: Content,
    /// The part of the content that is the body.
    pub part: Range<u64>,
}

impl Response {
    /// An answer whose body is a line for a person.
    pub fn words(status: u16, words: &str) -> Self {
        Self::whole(
            status,
            "text/plain; charset=utf-8",
            Content::of(format!("{words}\n")),
        )
    }

    /// An answer whose body is a web page.
    pub fn page(status: u16, title: &str) -> Self {
        let page = format!(
            "<!DOCTYPE html>\n<html><head><title>{title}</title></head><body><h1>{title}</h1></body></html>\n"
        );
        Self::whole(status, "text/html; charset=utf-8", Content::of(page))
    }

    pub fn whole(status: u16, kind: &str, content: Content) -> Self {
        let part = 0..content.size();
        Self {
            status,
            headers: vec![("Content-Type", kind.to_owned())],
            content,
            part,
        }
    }

    pub fn with(mut self, name: &'static str, value: impl Into<String>) -> Self {
        self.headers.push((name, value.into()));
        self
    }

    /// Octets of the body.
    pub fn length(&self) -> u64 {
        self.part.end.saturating_sub(self.part.start)
    }

    /// Status line and headers as they go over the wire. A 304 has no body and says no length.
    pub fn head(&self, delivery: &Delivery, date: &str, closes: bool) -> String {
        let mut head = format!(
            "HTTP/1.1 {} {}\r\nDate: {date}\r\n",
            self.status,
            reason(self.status)
        );
        for (name, value) in &self.headers {
            // Writing to a string cannot fail.
            let _ = write!(head, "{name}: {value}\r\n");
        }
        if self.status != 304 {
            let length = self.length().saturating_add_signed(delivery.length_lie);
            let _ = write!(head, "Content-Length: {length}\r\n");
        }
        if closes {
            head.push_str("Connection: close\r\n");
        }
        head.push_str("\r\n");
        head
    }
}

fn reason(status: u16) -> &'static str {
    match status {
        200 => "OK",
        206 => "Partial Content",
        301 => "Moved Permanently",
        302 => "Found",
        303 => "See Other",
        304 => "Not Modified",
        307 => "Temporary Redirect",
        308 => "Permanent Redirect",
        400 => "Bad Request",
        403 => "Forbidden",
        404 => "Not Found",
        405 => "Method Not Allowed",
        412 => "Precondition Failed",
        416 => "Range Not Satisfiable",
        429 => "Too Many Requests",
        500 => "Internal Server Error",
        502 => "Bad Gateway",
        503 => "Service Unavailable",
        _ => "Other",
    }
}
