//! What can go wrong on request, and which requests each fault concerns.
//!
//! Must not know: how a fault is made to happen.

use crate::index::IndexKind;
use crate::request::Request;
use crate::stamp::Stamp;
use crate::subset::Question;
use chrono::TimeDelta;
use std::time::Duration;

/// What goes wrong with an answer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Fault {
    /// 404, although the file is there.
    NotThere,
    /// 403, as an object store gives for a missing file whose folder may not be listed.
    Forbidden,
    /// 429, with the seconds of `Retry-After` if any.
    TooManyRequests {
        /// Seconds of `Retry-After`.
        retry_after: Option<u64>,
    },
    /// A status of the server's own failure: 500, 502, 503.
    ServerError {
        /// The status.
        status: u16,
        /// Seconds of `Retry-After`.
        retry_after: Option<u64>,
    },
    /// A redirect (301, 302, 307, 308) to another path of the replica, or to an address of another host.
    Redirect {
        /// The status.
        status: u16,
        /// `Location`: a path that begins with a slash, or a whole address.
        to: String,
    },
    /// 302 to a page that says in HTML, with status 200, that access is blocked.
    BlockPage,
    /// A page of HTML with status 200 in place of the file.
    HtmlPage,
    /// 200 and the whole file in answer to a range.
    RangeIgnored,
    /// 416 in answer to a range that is there.
    RangeRefused,
    /// The connection is closed without a single octet of an answer.
    ClosedUnanswered,
    /// The connection is closed after so many octets of the body.
    CutBody {
        /// Octets of the body that are sent.
        after: u64,
    },
    /// The body comes a few octets at a time.
    SlowBody {
        /// Octets sent at once.
        octets: u64,
        /// The pause after each.
        every: Duration,
    },
    /// Nothing comes after so many octets of the body, and the connection stays open until the client leaves.
    StalledBody {
        /// Octets of the body that are sent.
        after: u64,
    },
    /// `Content-Length` is larger than the body, after which the connection is closed.
    LengthOverstated {
        /// Octets too many.
        by: u32,
    },
    /// `Content-Length` is smaller than the body, all of which is sent; then the connection is closed.
    LengthUnderstated {
        /// Octets too few.
        by: u32,
    },
    /// `Date` and `Last-Modified` are of a clock that is wrong by so much; positive for one that is ahead.
    ClockOff {
        /// How far the clock is ahead.
        by: TimeDelta,
    },
    /// Files of later steps than this never appear.
    StopsGrowing {
        /// The last step that appears, hours.
        after_step: u32,
    },
    /// Every offset of the index is wrong by so many octets.
    IndexOffsetsShifted {
        /// Added to each offset.
        by: i64,
    },
    /// Every length of the index is wrong by so many octets; where lengths follow from offsets, offsets grow apart.
    IndexLengthsWrong {
        /// Added to each length.
        by: i64,
    },
    /// The index is of the version before: `Last-Modified` ten minutes before its file's, records a tenth shorter.
    IndexOlder,
    /// The index says that it is of a run some hours before.
    IndexOfOtherRun {
        /// Hours from the run it says to the run it is of.
        hours_before: u32,
    },
    /// The first index line with one text names the message of the first line with the other text.
    IndexPointsAt {
        /// A text of the line that is changed, such as `UGRD:10 m` or `"number": "7", "param": "10u"`.
        line_with: String,
        /// A text of the line whose offset and length it gets.
        at_line_with: String,
    },
    /// The mesh of every message of template 3.101 has another UUID than the file has, and is otherwise the same.
    MeshUuidChanged,
    /// Octets of every message are inverted; of the whole file where it holds no plain message, as inside bzip2.
    FlippedOctets {
        /// The first of them, counted from 0 at the message's start.
        octet: u64,
        /// How many.
        count: u64,
    },
    /// The file is only so many octets long, as one that is still being written, and answers say so.
    FileTruncated {
        /// Octets that are there.
        after: u64,
    },
    /// Another file is served under this path, and its lengths in the index, which else is right: a step or member
    /// that is not what it is said to be.
    FileReplacedBy {
        /// The decoded path of the other file, without the ending of an index.
        path: String,
    },
}

impl Fault {
    /// Whether a request is one this fault can befall.
    pub(crate) fn concerns(&self, request: &Request) -> bool {
        let is_index = IndexKind::of(&request.path).is_some();
        match self {
            Self::RangeIgnored | Self::RangeRefused => request.header("range").is_some(),
            Self::CutBody { .. } | Self::SlowBody { .. } | Self::StalledBody { .. } => {
                request.method == "GET"
            }
            Self::StopsGrowing { after_step } => {
                let asked = Question::of(request).map(|question| question.path);
                let path = asked.as_deref().unwrap_or(&request.path);
                Stamp::of(path).is_some_and(|stamp| stamp.step_hours > *after_step)
            }
            Self::IndexOffsetsShifted { .. }
            | Self::IndexLengthsWrong { .. }
            | Self::IndexOlder
            | Self::IndexOfOtherRun { .. }
            | Self::IndexPointsAt { .. } => is_index,
            Self::MeshUuidChanged | Self::FlippedOctets { .. } | Self::FileTruncated { .. } => !is_index,
            _ => true,
        }
    }
}
